"""What one light change did to each coral: its light before and after, and which of it is sure."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.template.defaultfilters import pluralize

from apps.corals.models import Coral, Spot
from apps.corals.status import band_state
from apps.lighting.change.effect import SAME_WITHIN
from apps.lightmap.difference.light_effect import LightEffect
from apps.lightmap.pins import UNKNOWN, WITHIN, BandState
from apps.lightmap.spot_light import SpotLight

# Of the light after, for 1 before: the middle, and the ends of its interval.
Ratio = tuple[float, float, float]

MORE, LESS, NOISE, NONE = "more", "less", "noise", "none"
WORDS = {MORE: "brighter", LESS: "dimmer", NOISE: "no sure change", NONE: "as before"}
# Ratios nearer than this are the same [1]: rounding must not choose who comes first.
SAME_RATIO = 1e-6


@dataclass(frozen=True)
class CoralEffect:
    """A coral's light just before and just after a change; ratio and interval for 1 before."""

    coral: Coral
    spot: Spot
    before: SpotLight
    after: SpotLight
    ratio: float | None
    low: float | None
    high: float | None
    key: str
    state: BandState  # after

    @property
    def words(self) -> str:
        return WORDS[self.key]


@dataclass(frozen=True)
class EffectOnCorals:
    """What a change did to the corals of its day, most changed first.

    `within_rock` are those whose spot lies within a rock's box: no light is known there.
    """

    effects: tuple[CoralEffect, ...] = ()
    within_rock: tuple[Coral, ...] = ()

    @property
    def changed(self) -> list[CoralEffect]:
        """Return the effects that are sure."""
        return [row for row in self.effects if row.key in (MORE, LESS)]

    @property
    def unchanged(self) -> list[CoralEffect]:
        """Return the effects that may be none."""
        return [row for row in self.effects if row.key not in (MORE, LESS)]

    @property
    def in_short(self) -> str:
        """How many corals the change reached for sure, and how many are out of their band now."""
        return " ".join(filter(None, (self._changed_words(), self._outside_words())))

    def _changed_words(self) -> str:
        keys = [row.key for row in self.effects]
        counts = [(keys.count(key), WORDS[key]) for key in (MORE, LESS) if key in keys]
        if not counts:
            return "No coral’s light clearly changed."
        (count, way_words), *others = counts
        first = f"{count} of {len(keys)} coral{pluralize(len(keys))} {way_words}"
        return f"{', '.join([first, *(f'{n} {words}' for n, words in others)])}."

    def _outside_words(self) -> str:
        states = [row.state.key for row in self.effects if row.state.key != UNKNOWN]
        outside = sum(key != WITHIN for key in states)
        if outside:
            are = "1 is outside its" if outside == 1 else f"{outside} are outside their"
            return f"{are} band now."
        return "None is outside its band now." if states else ""


def effect_on_corals(corals: Iterable[Coral], effect: LightEffect, day: dt.date) -> EffectOnCorals:
    """Return the EffectOnCorals of a LightEffect for those of the corals in the tank that day."""
    here = [c for c in corals if c.added_on <= day and not (c.gone_on and c.gone_on < day)]
    placed = [(coral, spot) for coral in here if (spot := coral.spot_on(day))]
    if not placed:
        return EffectOnCorals()
    points = [(spot.x_cm, spot.y_cm, spot.depth_cm) for _, spot in placed]
    before, after = effect.lights_at(points)
    ratios: list[Ratio | None] = [None] * len(points)
    if not effect.is_dark:
        result = effect.ratio_at(points)
        ratios = list(zip(result.ratio, result.low, result.high, strict=True))
    rows = list(zip(placed, before, after, ratios, strict=True))
    effects = [
        coral_effect(coral, spot, was, becomes, ratio)
        for (coral, spot), was, becomes, ratio in rows
        if was is not None and becomes is not None
    ]
    return EffectOnCorals(
        most_changed_first(effects),
        tuple(coral for (coral, _), was, becomes, _ in rows if was is None or becomes is None),
    )


def most_changed_first(effects: list[CoralEffect]) -> tuple[CoralEffect, ...]:
    """Return effects by how far the light went; those alike stay in their order."""
    return tuple(
        sorted(effects, key=lambda row: -round(abs((row.ratio or 0.0) - 1.0) / SAME_RATIO))
    )


def coral_effect(
    coral: Coral, spot: Spot, before: SpotLight, after: SpotLight, ratio: Ratio | None
) -> CoralEffect:
    """Return the CoralEffect of one coral; ratio is (middle, low, high) or None in the dark."""
    middle, low, high = (float(v) for v in ratio) if ratio else (None, None, None)
    return CoralEffect(
        coral=coral,
        spot=spot,
        before=before,
        after=after,
        ratio=middle,
        low=low,
        high=high,
        key=way(before, after, low, high),
        state=band_state(after, coral.band(after.full_hours)),
    )


def way(before: SpotLight, after: SpotLight, low: float | None, high: float | None) -> str:
    """Return which way the light went, and whether that is sure."""
    if low is None or high is None:
        return LESS if after.par_umol < before.par_umol else MORE
    if max(abs(low - 1), abs(high - 1)) < SAME_WITHIN:
        return NONE
    if low > 1:
        return MORE
    return LESS if high < 1 else NOISE
