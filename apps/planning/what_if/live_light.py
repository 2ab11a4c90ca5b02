"""The light a living tank would have under another rig, from its calibrated field."""

import copy
import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from apps.lighting.history import lamps_of
from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.lightmap.lightmap import TankLight, tank_light
from apps.lightmap.logged_factors import guesses, guesses_log, widened
from apps.lightmap.rig_transition import MAKE_UNKNOWN, Followed, RigTransition, transition_between
from apps.lightmap.survey_map import TankMap
from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray
from apps.photics.ground.dose import dli_mol
from apps.photics.ground.normal import NORMAL_90
from apps.tanks.models import Tank

NO_MAP = (
    "This tank has no light map yet, and the output of its lamps isn’t known. Enter their rated "
    "output or watts under your lamps, or survey the tank."
)
NO_RIG = (
    "This tank’s lights aren’t entered, so other lights can’t be tried. Add them in the light "
    "log, dated before your survey."
)
NO_LIGHT = "No light would be on."


@dataclass(frozen=True)
class PointLight:
    """Light at points under one rig, arrays (m,) [umol m-2 s-1]."""

    par_umol: FloatArray
    low_umol: FloatArray
    high_umol: FloatArray
    extrapolated: BoolArray
    # Half the width that the meter's scale and logged guesses bring to all points alike [log].
    common_log: float = 0.0


@dataclass(frozen=True)
class LiveLight:
    """A tank's light now, and the calibrated field that gives it under other rigs."""

    tank: Tank
    light: TankLight
    now: dt.datetime
    rows: Sequence[HungFixture]  # what hangs now

    @cached_property
    def serving(self) -> TankMap | None:
        """Return the map that serves now, or None."""
        return self.light.map_for(self.now)

    @property
    def survey_map(self) -> TankMap:
        """Return the map that serves now; raises ValueError with a sentence where none does."""
        if self.serving is None:
            raise ValueError(NO_MAP)
        return self.serving

    @property
    def not_measured(self) -> bool:
        """Whether the light is known by the stated output of the fixtures alone."""
        return self.serving is not None and not self.serving.measured

    @property
    def problem(self) -> str:
        """Return the sentence that says why no other rig can be tried; empty when one can."""
        if self.serving is None:
            return NO_MAP
        return "" if self.rows else NO_RIG

    @property
    def full_hours(self) -> float | None:
        """Return the hours of full light a day is worth now [h], None before anyone stated them."""
        return self.light.history.full_hours_at(self.now)

    def dli_mol(self, par_umol: float) -> float | None:
        """Return the daily light of a PAR, or None without a schedule [mol m-2 d-1]."""
        return None if self.full_hours is None else dli_mol(par_umol, full_hours=self.full_hours)

    def followed(self, points_cm: ArrayLike) -> Followed:
        """Return the map at points (m, 3), to be evaluated under one rig after another."""
        return self.light.followed(self.survey_map, points_cm)

    def now_at(self, points_cm: ArrayLike, *, followed: Followed | None = None) -> PointLight:
        """Return the PointLight at points (m, 3) under the rig that hangs now."""
        transition = self.light.transition(self.survey_map, self.now)
        return self.under(followed or self.followed(points_cm), transition)

    def after_at(
        self,
        rows: Sequence[HungFixture],
        points_cm: ArrayLike,
        *,
        followed: Followed | None = None,
    ) -> PointLight:
        """Return the PointLight at points (m, 3) under other HungFixtures.

        `followed` spares working out again the light of what stays where it is. Those with the
        number and make of one that hangs now are the same thing, moved or set anew; the others
        take the output of one like it. Raises ValueError with a sentence when nothing would
        shine.
        """
        if not any(row.light_percent > 0 for row in rows):
            raise ValueError(NO_LIGHT)
        return self.under(followed or self.followed(points_cm), self.transition_on(rows))

    def transition_on(self, rows: Sequence[HungFixture]) -> RigTransition | None:
        """Return the RigTransition from the serving survey to other HungFixtures."""
        start = self.survey_map.followed_from
        tried = lamps_of(numbered(rows))
        return transition_between(self.light.history, start, self.now, tried=tried)

    def under(self, followed: Followed, transition: RigTransition | None) -> PointLight:
        """Return the PointLight of a Followed under a RigTransition, as the light map has it."""
        history, serving = self.light.history, self.survey_map
        light = followed.under(transition)
        factor = history.factor_between(serving.factor_from, self.now)
        vague = guesses(history.vague_between(serving.vague_from, self.now))
        par = light.par_umol * factor
        low, high = widened(par, light.low_umol * factor, light.high_umol * factor, vague)
        by_meter = NORMAL_90 * serving.mapped.meter_deviation
        common = math.hypot(by_meter, guesses_log(vague))
        return PointLight(par, low, high, light.extrapolated, common)

    def guessed_outputs(self, rows: Sequence[HungFixture]) -> list[str]:
        """Return the names of fixtures whose output is taken from another make's, unstated."""
        transition = self.transition_on(rows)
        if transition is None:
            return []
        names = {
            fixture.name.rpartition(" ")[0]
            for fixture, unsure in zip(transition.after, transition.prior_deviations, strict=True)
            if unsure == MAKE_UNKNOWN
        }
        return sorted(names)


def numbered(rows: Sequence[HungFixture]) -> list[HungFixture]:
    """Return HungFixtures with a number for each, new ones after the highest there is."""
    highest = max((row.number or 0 for row in rows), default=0)
    with_numbers = []
    for row in rows:
        if row.number is None:
            highest += 1
            row = copy.copy(row)
            row.number = highest
        with_numbers.append(row)
    return with_numbers


def live_light(tank: Tank, now: dt.datetime) -> LiveLight:
    """Return the LiveLight of a tank."""
    return LiveLight(tank, tank_light(tank), now, rig_in_force(tank, now))
