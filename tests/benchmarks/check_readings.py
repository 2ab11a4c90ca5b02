"""Readings taken to check a map: after a change of the light, and where nothing changed.

A simulated reading is the true light with a meter's noise, written down about a probe's place off
and in whole numbers. Where a map is scored no reading was taken.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from apps.photics.field.light_field import LightField, fit_light_field
from apps.photics.field.next_points import next_points
from apps.photics.field.readings import SurveyReadings
from apps.photics.ground.scene import Tank
from tests.photics.changed import Changed
from tests.photics.traced import TracedTank

# A frozen record with the fields of a TracedTank.
Read = TypeVar("Read")
METER, PROBE_CM = 0.05, 1.0
LATER = 4
# How far the scale of another day may be from this one's [log], as the app allows.
ANOTHER_DAY = 0.02


@dataclass(frozen=True)
class Scores:
    """How good a map is [%]: median error, coverage and mean width by the mean light."""

    error: float
    covers: float
    width: float


def read_at(
    places_cm: np.ndarray,
    true_umol: np.ndarray,
    tank: Tank,
    rng: np.random.Generator,
    probe_cm: float = PROBE_CM,
) -> SurveyReadings:
    """Return simulated readings at places (n, 3) [cm] of true light (n,) [umol m-2 s-1].

    probe_cm: how far the probe is from where it is written down, along each axis [cm].
    """
    sides = [tank.length_cm, tank.width_cm, tank.depth_cm]
    written = places_cm + rng.normal(0, probe_cm, places_cm.shape)
    par = true_umol * np.exp(rng.normal(0, METER, len(true_umol)))
    return SurveyReadings(np.clip(written, 0.0, sides), np.maximum(par.round(), 1.0))


def scored(
    field: LightField, spots_cm: np.ndarray, true_umol: np.ndarray, left_out: Sequence[int]
) -> Scores:
    """Return the Scores of a field at spots (m, 3) [cm], but for the numbers left out."""
    rest = np.setdiff1d(np.arange(len(true_umol)), left_out)
    light, truth = field.at(spots_cm[rest]), true_umol[rest]
    return Scores(
        100.0 * float(np.median(np.abs(light.par_umol / truth - 1))),
        100.0 * float(np.mean((light.low_umol <= truth) & (truth <= light.high_umol))),
        100.0 * float(np.mean(light.high_umol - light.low_umol) / truth.mean()),
    )


def scores_after_checks(case: Changed, counts: Sequence[int], seed: int = 0) -> list[Scores]:
    """Return the Scores of the light after a change, by how many check readings were taken.

    Spots are chosen by `next_points` on the forecast; of fewer readings they are the first.
    """
    rng = np.random.default_rng(seed)
    spots = case.truth_points_cm
    plain = field_with(case, [])
    chosen = next_points(plain, max(counts), candidates=spots) if max(counts) else spots[:0]
    numbers = [int(np.flatnonzero((spots == spot).all(axis=1))[0]) for spot in chosen]
    checks = read_at(chosen, case.truth_umol[numbers], case.tank, rng)
    result = []
    for many in counts:
        some = replace(
            checks,
            points_cm=np.asarray(checks.points_cm)[:many],
            par_umol=np.asarray(checks.par_umol)[:many],
            fixtures=case.after,
            same_as=case.same_as,
        )
        field = field_with(case, [some]) if many else plain
        result.append(scored(field, spots, case.truth_umol, numbers[:many]))
    return result


def field_with(case: Changed, checks: Sequence[SurveyReadings]) -> LightField:
    """Return the field after a change from the readings before it and checks after it."""
    field = fit_light_field(
        case.points_cm, case.par_umol, tank=case.tank, fixtures=case.before, others=checks
    )
    return field.forecast(case.after, same_as=case.same_as)


def read_anew(
    case: Read, rng: np.random.Generator, probe_cm: float = PROBE_CM
) -> tuple[Read, np.ndarray]:
    """Return a tank with its survey read anew by a keeper, and which truth points it used.

    At the truth points nearest to where readings were taken, none twice. A case has the fields of
    a TracedTank, `probe_cm` is that of `read_at`.
    """
    used: list[int] = []
    for place in case.points_cm:
        away = ((case.truth_points_cm - place) ** 2).sum(axis=1)
        away[used] = np.inf
        used.append(int(away.argmin()))
    places, light = case.truth_points_cm[used], case.truth_umol[used]
    read = read_at(places, light, case.tank, rng, probe_cm)
    again = replace(case, points_cm=np.asarray(read.points_cm), par_umol=np.asarray(read.par_umol))
    return again, np.array(used)


def surveys_anew(
    case: Read, many: int, *, number: int, probe_cm: float = PROBE_CM
) -> Iterator[Read]:
    """Yield a tank read anew so `many` times; its truth points are those left that none read.

    `number` of the tank, by which its errors are drawn: the same ones each time.
    """
    for seed in range(many):
        again, used = read_anew(case, np.random.default_rng([31, number, seed]), probe_cm)
        rest = np.setdiff1d(np.arange(len(case.truth_umol)), used)
        yield replace(
            again, truth_points_cm=case.truth_points_cm[rest], truth_umol=case.truth_umol[rest]
        )


def scores_around_later_survey(
    case: TracedTank, *, stated: bool, seed: int = 0, anew: bool = False
) -> tuple[Scores, Scores]:
    """Return the Scores before and after a later survey of LATER readings, nothing changed.

    Its spots are drawn; its day's scale is the map's, and the older survey's may be off from it.
    With `anew` the older survey is drawn too: one that happens to be good gets worse by any other.
    """
    rng = np.random.default_rng(seed)
    fixtures = case.fixtures if stated else ()
    older, used = read_anew(case, rng) if anew else (case, np.zeros(0, int))
    rest = np.setdiff1d(np.arange(len(case.truth_umol)), used)
    drawn = rng.choice(rest, LATER, replace=False)
    later = read_at(case.truth_points_cm[drawn], case.truth_umol[drawn], case.tank, rng)
    result = []
    for others, deviation in (((), 0.0), ((later,), ANOTHER_DAY)):
        field = fit_light_field(
            older.points_cm,
            older.par_umol,
            tank=case.tank,
            fixtures=fixtures,
            others=others,
            scale_deviation=deviation,
        )
        left_out = [*drawn, *used]
        result.append(scored(field, case.truth_points_cm, case.truth_umol, left_out))
    return result[0], result[1]
