"""Where each coral's mark goes in the strip chart: light for 1 at its band's middle, log scale."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from apps.outcomes.association.comparison import CoralLight
from apps.outcomes.exposure.exposure import band_middle_umol

# Corals drawn; of a tank of hundreds, those with the event come first, then the brightest.
CORALS_MAX, AFFECTED_MAX = 24, 16
# The outermost ticks stand this far from the ends [%], so that marks and labels stay inside.
MARGIN_PERCENT = 6.0


@dataclass(frozen=True)
class StripTick:
    label: str
    x: str


@dataclass(frozen=True)
class StripRow:
    """One coral's line; positions are SVG percentages."""

    coral: CoralLight
    x: str
    low_x: str
    high_x: str
    band_x: str
    band_width: str


@dataclass(frozen=True)
class Strip:
    ticks: tuple[StripTick, ...]
    rows: tuple[StripRow, ...]
    left_out: int  # corals that were compared and are not drawn


def drawn_corals(corals: Sequence[CoralLight], most: int = CORALS_MAX) -> Sequence[CoralLight]:
    """Return the CoralLights to draw, in their order: all, or the `most` that show the most."""
    if len(corals) <= most:
        return corals
    affected = [(coral.event.first_on, coral) for coral in corals if coral.event]
    affected.sort(key=lambda pair: pair[0], reverse=True)
    newest = [coral for _, coral in affected[: most * AFFECTED_MAX // CORALS_MAX]]
    others = [coral for coral in corals if not coral.event][: most - len(newest)]
    chosen = {coral.coral_pk for coral in newest + others}
    return tuple(coral for coral in corals if coral.coral_pk in chosen)


def draw_strip(corals: Sequence[CoralLight], *, most: int = CORALS_MAX) -> Strip | None:
    """Return the Strip of the CoralLights of one comparison, in their order; None without any.

    Of more than `most` it draws those that show the most.
    """
    if not corals:
        return None
    many, corals = len(corals), drawn_corals(corals, most)
    bands = [band_ends(coral) for coral in corals]
    ratios = [coral.place.ratio for coral in corals] + [end for band in bands for end in band]
    first = math.floor(math.log2(min(ratios)))
    last = max(math.ceil(math.log2(max(ratios))), first + 1)

    def percent(ratio: float) -> float:
        # Intervals may reach far beyond all marks; they end at the edge.
        share = (min(max(math.log2(ratio), first), last) - first) / (last - first)
        return MARGIN_PERCENT + (100 - 2 * MARGIN_PERCENT) * share

    rows = [strip_row(coral, band, percent) for coral, band in zip(corals, bands, strict=True)]
    step = math.ceil((last - first) / 6)
    ticks = tuple(
        StripTick(f"{2.0**power:g}", text(percent(2.0**power)))
        for power in range(first, last + 1, step)
    )
    return Strip(ticks, tuple(rows), many - len(corals))


def strip_row(
    coral: CoralLight, band: tuple[float, float], percent: Callable[[float], float]
) -> StripRow:
    """Return the StripRow of a coral with its band's ends, for 1 at its middle [1].

    `percent` is where a ratio goes [%].
    """
    middle, (low, high) = band_middle_umol(coral.place.band), band
    return StripRow(
        coral=coral,
        x=text(percent(coral.place.ratio)),
        low_x=text(percent(coral.light.low_umol / middle)),
        high_x=text(percent(coral.light.high_umol / middle)),
        band_x=text(percent(low)),
        band_width=text(percent(high) - percent(low)),
    )


def band_ends(coral: CoralLight) -> tuple[float, float]:
    """Return the ends of a coral's band, for 1 at its middle [1]."""
    band = coral.place.band
    middle = band_middle_umol(band)
    return band.low_umol / middle, band.high_umol / middle


def text(percent: float) -> str:
    return f"{percent:.2f}%"
