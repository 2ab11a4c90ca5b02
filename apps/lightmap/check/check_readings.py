"""Check readings after a light change: the spots that tell most of it, and what they changed.

A reading's value moves the forecast, not how sure it is, so what two or three would bring is known
before they are taken.
"""

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from django.utils.text import capfirst

from apps.common.kept import kept
from apps.common.units import plus_minus
from apps.lighting.history import Change, light_history
from apps.lightmap.lightmap import TankLight, tank_light
from apps.lightmap.logged_factors import CHANGE_LOG_DEVIATION, guesses
from apps.lightmap.page.looks import half_width_percent
from apps.lightmap.page.next import typical_half_widths
from apps.lightmap.pins import Pin, pins_for
from apps.lightmap.provenance import count_words, day_words
from apps.lightmap.rig_transition import transition_between
from apps.lightmap.spot_light import SpotLight
from apps.lightmap.survey_map import LazyMap, map_after
from apps.lightmap.unread_maps import DAWN
from apps.photics.field.light_field import HALF_WIDTH, LightField
from apps.photics.field.next_points import MAP_PER_AXIS, next_points
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90
from apps.photics.ground.open_water import open_grid
from apps.surveys.models import Survey
from apps.surveys.plan.patterns import Place
from apps.tanks.models import Tank

# Two spots, and a third where it leaves less than this of the half width that two leave [1]. Our
# own choice: a third reading must be worth its half minute.
FEWEST, MOST, THIRD_LEAVES = 2, 3, 0.9
# What a coral whose interval crosses an end of its band counts, for 1 of another. Our own choice.
UNCERTAIN_WEIGHT = 3.0
AT_PEAK = "Read while the lights are at the day’s peak."


@dataclass(frozen=True)
class CheckSpots:
    """Where to read, and the mean half width of the interval now and after it [%]."""

    places: tuple[Place, ...]
    before_percent: float
    after_percent: float


@dataclass(frozen=True)
class CheckProposal:
    """The spots to read after light changes, and what that would bring."""

    changes: tuple[Change, ...]  # those that touched the light since it was read, oldest first
    changed_on: str  # the day of the last
    last_survey: Survey
    spots: CheckSpots
    by_corals: bool
    uncertain: tuple[str, ...]  # corals that may lie within their band or not

    @property
    def places(self) -> tuple[Place, ...]:
        return self.spots.places

    @property
    def sentence(self) -> str:
        """What the readings would bring, as the pages say it."""
        before, after = percent_words(self.spots.before_percent, self.spots.after_percent)
        return (
            f"Forecast since {self.changed_on}: {before} {where(self.by_corals)}, {after} after "
            f"{count_words(len(self.places), 'reading')}."
        )

    @property
    def when(self) -> str:
        """When to read, as the pages say it."""
        return AT_PEAK

    @property
    def button(self) -> str:
        """The words of the button that begins them."""
        count = len(self.places)
        return f"Read these {count} spots" if count > 1 else "Read this spot"


@dataclass(frozen=True)
class CheckOutcome:
    """What the readings since a light change made of its forecast [%]."""

    count: int
    before_percent: float
    after_percent: float
    by_corals: bool

    @property
    def is_contradicted(self) -> bool:
        """Whether the readings made the light less sure: they miss the forecast, or each other."""
        return self.after_percent >= self.before_percent

    @property
    def sentence(self) -> str:
        """What the readings changed, as the pages say it."""
        before, after = percent_words(self.before_percent, self.after_percent)
        readings = f"{capfirst(count_words(self.count, 'reading'))} since the light change"
        if self.is_contradicted:
            verb = "does" if self.count == 1 else "do"
            return (
                f"{readings} {verb} not fit the forecast: the light {where(self.by_corals)} is "
                f"known to {after}, no better than the {before} before. Read a few more spots."
            )
        return f"{readings} brought the light {where(self.by_corals)} from {before} to {after}."


def where(by_corals: bool) -> str:
    """Say what the half widths are the mean of."""
    return "at your corals" if by_corals else "over the tank"


def percent_words(before: float, after: float) -> tuple[str, str]:
    """Return "± 18 %" and "± 7 %", with a decimal where they would look alike."""
    places = 1 if f"{before:.0f}" == f"{after:.0f}" else 0
    one, other = (plus_minus(percent, f".{places}f") for percent in (before, after))
    return one, other


def check_proposal(tank: Tank, now: dt.datetime) -> CheckProposal | None:
    """Return the CheckProposal of a moment, None where there is nothing to check.

    That is where the light is as it was read, or read since it changed, where nothing shines, where
    the fixtures were not known, and where the map leaves them out and is dimmed as a whole.
    """
    light = tank_light(tank)
    serving = light.measured_map_for(now)
    changes = () if serving is None else forecast_over(light, serving, now)
    if serving is None or not changes:
        return None
    pins, lights = lit_pins(light, pins_for(tank), now)
    crossing = [is_uncertain(pin, lit) for pin, lit in zip(pins, lights, strict=True)]
    weights = np.where(crossing, UNCERTAIN_WEIGHT, 1.0)
    spots = spots_to_check(light, serving, now, points_of(pins), weights)
    if spots is None:
        return None
    return CheckProposal(
        changes=changes,
        changed_on=day_words(changes[-1].happened_at, tank.zone),
        last_survey=serving.survey,
        spots=spots,
        by_corals=bool(pins),
        uncertain=tuple(pin.name for pin, unsure in zip(pins, crossing, strict=True) if unsure),
    )


def forecast_over(light: TankLight, serving: LazyMap, moment: dt.datetime) -> tuple[Change, ...]:
    """Return the changes over which a survey's light is a forecast that readings would sharpen."""
    history, taken_at = light.history, serving.taken_at
    changes = tuple(c for c in history.between(taken_at, moment) if c.touches_light)
    if not changes or serving.anchored.calibrated is None:
        return ()
    last = changes[-1].happened_at
    if any(last <= m.taken_at <= moment and m.survey.readings.all() for m in light.maps):
        return ()
    transition = light.transition(serving, moment)
    if transition is not None and transition.is_dark:
        return ()
    is_other = (
        transition_between(history, taken_at, moment) is not None
        or history.factor_between(taken_at, moment) != 1.0
        or bool(history.vague_between(taken_at, moment))
    )
    return changes if is_other else ()


def lit_pins(
    light: TankLight, pins: Sequence[Pin], moment: dt.datetime
) -> tuple[list[Pin], list[SpotLight]]:
    """Return the Pins whose light is known, and their SpotLights: no reading is taken in rock."""
    lights = light.at(points_of(pins), moment)
    known = [(p, lit) for p, lit in zip(pins, lights, strict=True) if lit is not None]
    return [pin for pin, _ in known], [lit for _, lit in known]


def points_of(pins: Sequence[Pin]) -> FloatArray:
    """Return the points of Pins, (m, 3) [cm]."""
    return np.array([(p.x_cm, p.y_cm, p.depth_cm) for p in pins], float).reshape(-1, 3)


def is_uncertain(pin: Pin, light: SpotLight) -> bool:
    """Return whether a coral's interval crosses an end of its band."""
    ends = (pin.band_low_umol, pin.band_high_umol)
    return any(end is not None and light.low_umol < end < light.high_umol for end in ends)


def spots_to_check(
    light: TankLight,
    serving: LazyMap,
    now: dt.datetime,
    corals_cm: FloatArray,
    weights: FloatArray,
) -> CheckSpots | None:
    """Return the CheckSpots of a forecast, kept for all who ask; None where none would help.

    corals_cm (m, 3) with weights (m,), or none for the water as a whole.
    """
    after = map_after(serving.fitted, light.transition(serving, now), light.rocks)
    field = after.mapped
    # Readings under other lamps bear on a map by its lamps alone: one without stays as it is.
    if field.rig_fit is None or not len(open_grid(field.tank, field.rocks, MAP_PER_AXIS)):
        return None
    vague = guesses(light.history.vague_between(serving.taken_at, now))
    rests_on = (after.cache_key, corals_cm.tolist(), weights.tolist(), vague)
    key = "check-spots-" + hashlib.sha256(repr(rests_on).encode()).hexdigest()
    return kept(key, lambda: best_spots(field, corals_cm, weights, vague))


def best_spots(
    field: LightField, corals_cm: FloatArray, weights: FloatArray, vague: float
) -> CheckSpots:
    """Return the CheckSpots of a field, at whole cm.

    vague: how many changes left the whole light to a keeper's guess.
    """
    # As wide as `widened` makes the interval, whose law is another.
    scale = float(CHANGE_LOG_DEVIATION * np.sqrt(vague) * NORMAL_90 / HALF_WIDTH)
    has_corals = len(corals_cm) > 0
    best = next_points(
        field,
        MOST,
        spots_cm=corals_cm if has_corals else None,
        weights=weights if has_corals else None,
        scale_deviation=scale,
    )
    spots = np.array(list(dict.fromkeys(map(tuple, np.round(best)))))
    targets = corals_cm if has_corals else open_grid(field.tank, field.rocks, MAP_PER_AXIS)
    few, more = (
        typical_half_widths(field, spots[:count], targets, scale_deviation=scale)
        for count in (FEWEST, MOST)
    )
    is_worth_it = more[1] < THIRD_LEAVES * few[1]
    before, after = more if is_worth_it else few
    chosen = spots[: MOST if is_worth_it else FEWEST]
    places = tuple(Place(float(x), float(y), float(depth)) for x, y, depth in chosen)
    return CheckSpots(places, before, after)


def check_outcome(tank: Tank, survey: Survey) -> CheckOutcome | None:
    """Return the CheckOutcome of the readings since the last light change, up to a survey's.

    Before are the surveys before that change, at the survey's moment. None where no forecast was
    there to be checked, and where the survey's map is not followed from what was read before.
    """
    moment = survey.taken_at
    changes = [c for c in light_history(tank).between(DAWN, moment) if c.touches_light]
    if not changes:
        return None
    light, last = tank_light(tank), changes[-1].happened_at
    earlier = tuple(m for m in light.maps if m.taken_at < last)
    own = (moment, survey.pk)
    since = tuple(m for m in light.maps if m.taken_at >= last and (m.taken_at, m.survey_pk) <= own)
    if not any(m.survey_pk == survey.pk and m.survey.readings.all() for m in since):
        return None
    after, before = replace(light, maps=(*earlier, *since)), replace(light, maps=earlier)
    serving = after.measured_map_for(moment)
    if serving is None or serving not in since or serving.followed_from >= last:
        return None
    foreseen = before.measured_map_for(moment) if earlier else None
    if foreseen is None or not forecast_over(before, foreseen, moment):
        return None
    followed = before.map_at(moment)
    if followed is None or followed.mapped.rig_fit is None:
        # No reading bears on it: see `spots_to_check`.
        return None
    pins, _ = lit_pins(after, pins_for(tank), moment)
    targets = points_of(pins)
    if not pins:
        targets = open_grid(foreseen.mapped.tank, light.rocks, MAP_PER_AXIS)
    wide, narrow = (mean_half_width(one, targets, moment) for one in (before, after))
    if wide is None or narrow is None:
        return None
    count = sum(len(m.survey.readings.all()) for m in since)
    return CheckOutcome(count, wide, narrow, by_corals=bool(pins))


def mean_half_width(light: TankLight, points_cm: FloatArray, moment: dt.datetime) -> float | None:
    """Return the mean half width of the intervals at points (m, 3) [cm] in percent, if any."""
    columns = light.columns_at(points_cm, moment)
    if columns is None or columns.inside.all():
        return None
    widths = half_width_percent(columns.par_umol, columns.low_umol, columns.high_umol)
    return float(np.mean(widths[~columns.inside]))
