"""Why a point of the map has the light it has, in parts that add up to the number shown."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from apps.drawing.cut import Place
from apps.lightmap.page.looks import half_width_percent, sure_words
from apps.lightmap.shown_field import ShownField
from apps.photics.field.composition import Contribution, Explanation
from apps.photics.ground.scene import Rock

# Fixtures listed one by one; those that give least are summed.
FIXTURES_LISTED = 8
NEAREST_LISTED = 3
# From here on PAR is shown without decimals, as everywhere on the pages [umol m-2 s-1].
WHOLE_FROM_UMOL = 10.0
# A correction this small a share of the whole is no sign of anything [%], house rule.
SMALL_CORRECTION_PERCENT = 10.0
# From here on the panes' part explains what nobody expects of a corner [%], house rule.
MUCH_MIRRORED_PERCENT = 40.0
# A reading further off than this share of the longest side says little here [1], house rule.
FAR_SHARE = 0.25
# The drawings blur edges by about a cell of theirs [share of the longest side].
BLUR_SHARE = 1 / 20


Point = tuple[float, float, float]  # x, y, depth [cm]


class ReadRow(Place, Protocol):
    """A numbered reading at the day's peak."""

    @property
    def number(self) -> int: ...
    @property
    def peak_umol(self) -> float: ...
    @property
    def disagrees(self) -> bool: ...


@dataclass(frozen=True)
class FixtureLight:
    """One fixture's light at the point, rounded so that all of them add up [umol m-2 s-1]."""

    name: str
    direct_umol: float
    by_panes_umol: float
    by_bottom_umol: float
    total_umol: float
    percent: float


@dataclass(frozen=True)
class Near:
    """A reading close to the point."""

    number: int
    away_cm: float
    peak_umol: float
    disagrees: bool


@dataclass(frozen=True)
class Why:
    """All that is shown of one point [cm, umol m-2 s-1, %]."""

    x_cm: float
    y_cm: float
    depth_cm: float
    par_umol: float
    low_umol: float
    high_umol: float
    half_width_percent: float
    sure: str
    extrapolated: bool
    guessed: bool
    by_fixture: tuple[FixtureLight, ...]
    correction_umol: float
    correction_is_small: bool
    direct_percent: float | None
    nearest: tuple[Near, ...]
    nearest_is_far: bool
    by_rock: bool

    @property
    def nearest_away_cm(self) -> float:
        return self.nearest[0].away_cm

    @property
    def mirrored_percent(self) -> float:
        """How much of the lamps' light comes by way of the panes [%]."""
        total = sum(part.total_umol for part in self.by_fixture)
        mirrored = sum(part.by_panes_umol for part in self.by_fixture)
        return 100.0 * mirrored / total if total > 0 else 0.0

    @property
    def is_mirrored(self) -> bool:
        """Whether the panes give so much that it wants a word."""
        return self.mirrored_percent >= MUCH_MIRRORED_PERCENT

    @property
    def takes_away(self) -> bool:
        return self.correction_umol < 0

    @property
    def correction_verb(self) -> str:
        """What the readings nearby do to the fixtures' light."""
        return "take away" if self.takes_away else "add"

    @property
    def correction_size_umol(self) -> float:
        return abs(self.correction_umol)


def why(
    shown: ShownField, point_cm: Point, rows: Sequence[ReadRow], rocks: Sequence[Rock] = ()
) -> Why:
    """Return the Why of a point (3,) of a ShownField.

    rows are the survey's MeasuredRows, rocks the tank's as photics knows them.
    """
    explained = shown.explain(point_cm)
    by_fixture, correction, total = rounded_parts(explained)
    half = half_width_percent(explained.par_umol, explained.low_umol, explained.high_umol)
    direct = float(shown.directness([point_cm])[0])
    near, tank = nearest(point_cm, rows), shown.field.tank
    longest_cm = max(tank.length_cm, tank.width_cm, tank.depth_cm)
    x_cm, y_cm, depth_cm = point_cm
    return Why(
        x_cm=x_cm,
        y_cm=y_cm,
        depth_cm=depth_cm,
        par_umol=total,
        low_umol=explained.low_umol,
        high_umol=explained.high_umol,
        half_width_percent=half,
        sure=sure_words(half),
        extrapolated=explained.extrapolated,
        guessed=explained.guessed,
        by_fixture=by_fixture,
        correction_umol=correction,
        correction_is_small=100 * abs(correction) <= SMALL_CORRECTION_PERCENT * total,
        direct_percent=None if math.isnan(direct) else 100.0 * direct,
        nearest=near,
        nearest_is_far=not near or near[0].away_cm > FAR_SHARE * longest_cm,
        by_rock=any(is_by(rock, point_cm, longest_cm * BLUR_SHARE) for rock in rocks),
    )


def is_by(rock: Rock, point_cm: Point, near_cm: float) -> bool:
    """Return whether a point lies within near_cm of a rock."""
    starts = (rock.x_cm, rock.y_cm, rock.depth_cm)
    sizes = (rock.length_cm, rock.width_cm, rock.height_cm)
    return all(
        start - near_cm <= value <= start + size + near_cm
        for start, size, value in zip(starts, sizes, point_cm, strict=True)
    )


def rounded_parts(explained: Explanation) -> tuple[tuple[FixtureLight, ...], float, float]:
    """Return the Shares, the correction and the PAR of an Explanation, rounded to add up."""
    strongest_first = sorted(explained.contributions, key=lambda part: -sum(parts_of(part)))
    named = [
        (part.name or f"Fixture {part.fixture + 1}", parts_of(part)) for part in strongest_first
    ]
    if len(named) > FIXTURES_LISTED:
        rest = named[FIXTURES_LISTED - 1 :]
        summed = tuple(sum(column) for column in zip(*(parts for _, parts in rest), strict=True))
        named = [*named[: FIXTURES_LISTED - 1], (f"{len(rest)} more lamps", summed)]
    if explained.daylight_umol and named:
        named.append(("Daylight", (explained.daylight_umol, 0.0, 0.0)))
    values = [value for _, parts in named for value in parts] + [explained.correction_umol]
    if not named:
        return (), 0.0, round_par(explained.par_umol)
    step = 1.0 if explained.par_umol >= WHOLE_FROM_UMOL else 0.1
    *rounded, correction = round_to_sum(values, round_par(explained.par_umol), step)
    total = round_par(explained.par_umol)
    by_fixture = tuple(
        fixture_light(name, rounded[3 * i : 3 * i + 3], total) for i, (name, _) in enumerate(named)
    )
    return by_fixture, correction, total


def parts_of(part: Contribution) -> tuple[float, float, float]:
    return part.direct_umol, part.by_panes_umol, part.by_bottom_umol


def fixture_light(name: str, parts: Sequence[float], total_umol: float) -> FixtureLight:
    whole = sum(parts)
    direct, panes, bottom = parts
    percent = 100.0 * whole / total_umol if total_umol else 0.0
    return FixtureLight(name, direct, panes, bottom, whole, percent)


def round_par(par_umol: float) -> float:
    """Return PAR as the pages show it [umol m-2 s-1]."""
    return float(round(par_umol)) if par_umol >= WHOLE_FROM_UMOL else round(par_umol, 1)


def round_to_sum(values: Sequence[float], total: float, step: float) -> list[float]:
    """Return values rounded to multiples of step whose sum is total: largest remainders first."""
    counts = [math.floor(value / step) for value in values]
    short = max(0, round(total / step) - sum(counts))
    remainders = [value / step - count for value, count in zip(values, counts, strict=True)]
    order = sorted(range(len(values)), key=lambda i: -remainders[i])
    for i in order[:short]:
        counts[i] += 1
    return [round(count * step, 1) for count in counts]


def nearest(point_cm: Point, rows: Sequence[ReadRow]) -> tuple[Near, ...]:
    """Return the readings nearest to a point, the nearest first."""
    places = np.array([(row.x_cm, row.y_cm, row.depth_cm) for row in rows], float).reshape(-1, 3)
    away = np.linalg.norm(places - np.asarray(point_cm, float), axis=1)
    return tuple(
        Near(rows[i].number, float(away[i]), rows[i].peak_umol, rows[i].disagrees)
        for i in np.argsort(away, kind="stable")[:NEAREST_LISTED]
    )
