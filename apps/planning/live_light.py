"""The light a living tank would have under another rig, from its calibrated field."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.photics.dose import dli_mol
from apps.surveys.lightmap import TankLight, tank_light, widened
from apps.tanks.models import Tank

NO_MAP = "No survey of this tank carries a light map yet, so its light can’t be followed."
NO_RIG = (
    "Nobody has said what hung above the tank when it was surveyed, so the light under another "
    "rig can’t be foretold. Say it in the light log, dated before the survey."
)
NO_LIGHT = "No light would be on."


@dataclass(frozen=True)
class Hanging:
    """A fixture of the rig asked for: a row, and which row of the present rig it is, if any."""

    row: HungFixture
    was: int | None = None


@dataclass(frozen=True)
class PointLight:
    """Light at points under one rig, arrays (m,) [umol m-2 s-1]."""

    par_umol: np.ndarray
    low_umol: np.ndarray
    high_umol: np.ndarray
    extrapolated: np.ndarray


@dataclass(frozen=True)
class LiveLight:
    """A tank's light now, and the calibrated field that other rigs are asked of."""

    tank: Tank
    light: TankLight
    now: dt.datetime
    then_rows: Sequence[HungFixture]  # what hung when the serving survey was taken
    rows: Sequence[HungFixture]  # what hangs now

    @cached_property
    def serving(self):
        """Return the SurveyMap that serves now, or None."""
        return self.light.map_for(self.now)

    @property
    def problem(self):
        """Return the sentence that says why no other rig can be asked for; empty when one can."""
        if self.serving is None:
            return NO_MAP
        return "" if self.serving.field.calibrated else NO_RIG

    @property
    def full_hours(self):
        """Return the hours of full light a day is worth now, or None before anyone told [h]."""
        schedule = self.light.history.schedule_at(self.now)
        return schedule.full_hours if schedule else None

    def dli_mol(self, par_umol):
        """Return the daily light of a PAR, or None without a schedule [mol m-2 d-1]."""
        return None if self.full_hours is None else dli_mol(par_umol, full_hours=self.full_hours)

    def now_at(self, points_cm):
        """Return the PointLight at points (m, 3) under the rig that hangs now."""
        found = self.light.at(points_cm, self.now)
        columns = ("par_umol", "low_umol", "high_umol", "extrapolated")
        return PointLight(
            *(np.array([getattr(light, name) for light in found]) for name in columns)
        )

    def after_at(self, hangings, points_cm, *, now=None, base=None):
        """Return the PointLight at points (m, 3) under another rig.

        The map of now times what the calibrated rig foretells of the change; `now` and `base`
        spare working out again what `now_at` and `base_at` gave for these points. Raises
        ValueError with a sentence when nothing would shine.
        """
        now = self.now_at(points_cm) if now is None else now
        base = self.base_at(points_cm) if base is None else base
        found = self.foretold(hangings).at(points_cm)
        factor = now.par_umol / base
        changes = len(self.light.history.between(*sorted((self.serving.taken_at, self.now))))
        par = found.par_umol * factor
        low, high = widened(par, found.low_umol * factor, found.high_umol * factor, changes)
        return PointLight(par, low, high, found.extrapolated)

    def base_at(self, points_cm):
        """Return what the calibrated rig foretells for what hangs now, (m,)."""
        here = [Hanging(row, number) for number, row in enumerate(self.rows)]
        return self.foretold(here).at(points_cm).par_umol

    def foretold(self, hangings):
        """Return the LightField of the serving survey under another rig."""
        after, same_as = linked(self.then_rows, self.rows, hangings)
        if not any(fixture.level > 0 for fixture in after):
            raise ValueError(NO_LIGHT)
        return self.serving.field.forecast(after, same_as=same_as)


def live_light(tank, now):
    """Return the LiveLight of a tank."""
    light = tank_light(tank)
    serving = light.map_for(now)
    then = rig_in_force(tank, serving.taken_at) if serving else []
    return LiveLight(tank, light, now, then, rig_in_force(tank, now))


def linked(then_rows, now_rows, hangings):
    """Return (fixtures after, same_as) as a field fitted under `then_rows` wants them.

    A row of then is the first row of now with the same fixture that is not taken yet. What
    hangs after and hung then keeps its place in the order; what hung then no more is off. What
    is new takes the output of one like it, scaled by the rated outputs where both are known.
    """
    now_of = matches(then_rows, now_rows)
    after_of = {hanging.was: hanging for hanging in hangings if hanging.was is not None}
    fixtures, told = [], set()
    for number, row in enumerate(then_rows):
        hanging = after_of.get(now_of.get(number))
        if hanging is None:
            fixtures.append(replace(row.scene(), level=0.0))
        else:
            told.add(hanging.was)
            fixtures.append(hanging.row.scene())
    same_as = [None] * len(fixtures)
    for hanging in hangings:
        if hanging.was not in told:
            source = most_like(then_rows, hanging.row)
            scale = output_ratio(hanging.row.fixture, then_rows[source].fixture) or 1.0
            scene = hanging.row.scene()
            fixtures.append(replace(scene, level=scene.level * scale))
            same_as.append(source)
    return fixtures, same_as


def matches(then_rows, now_rows):
    """Return {number then: number now} of rows of the same fixture, in order."""
    found, free = {}, list(range(len(now_rows)))
    for number, row in enumerate(then_rows):
        same = next((k for k in free if now_rows[k].fixture_id == row.fixture_id), None)
        if same is not None:
            free.remove(same)
            found[number] = same
    return found


def most_like(then_rows, row):
    """Return the number of the row of then that a new one takes its output from."""
    rules = (
        lambda other: other.fixture_id == row.fixture_id,
        lambda other: output_ratio(row.fixture, other.fixture) is not None,
        lambda other: other.fixture.kind == row.fixture.kind,
        lambda other: True,
    )
    lit = [k for k, other in enumerate(then_rows) if other.level_percent > 0]
    return next(k for rule in rules for k in lit if rule(then_rows[k]))


def output_ratio(fixture, other):
    """Return the rated output of a fixture for 1 of another, None where one is not known [1]."""
    if fixture.pk == other.pk:
        return 1.0
    if not fixture.ppf_umol_s or not other.ppf_umol_s:
        return None
    return fixture.ppf_umol_s / other.ppf_umol_s
