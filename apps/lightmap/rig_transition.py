"""What the light log says happened to the fixtures since a survey, as the forecast wants it."""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.lighting.history import LightHistory
from apps.lighting.lamp_hours import Lamp
from apps.photics.field.field_change import FieldChange
from apps.photics.field.light_field import HALF_WIDTH, LightField
from apps.photics.field.light_path import EXACT, Changed, LightPath
from apps.photics.field.rescale import ratio_deviation
from apps.photics.ground import scene
from apps.photics.ground.arrays import ArrayLike
from apps.photics.ground.estimate import Estimate

# What age left of each lamp's output, by its key [1].
Left = Mapping[tuple[object, ...], float]

# How far the output of another make may be from that of the fixture it is reckoned from [log]:
# where both state their PPF, and where not. House rules.
MAKE_STATED, MAKE_UNKNOWN = 0.15, 0.4
# An ageing given as a rule of thumb is right to about half of itself [share of its log].
AGEING_DEVIATION = 0.5


@dataclass(frozen=True)
class RigTransition:
    """The fixtures after the changes, beside those the readings are reckoned from.

    `before` are the fixtures as described before; `measured` is False where the readings were
    taken before anyone described them, so that only their ratio can be used. A prior deviation has
    the sign of what age did: newer than at the readings errs the other way than older.
    """

    before: tuple[scene.Fixture, ...]
    after: tuple[scene.Fixture, ...]
    same_as: tuple[int | None, ...]
    prior_deviations: tuple[float, ...]
    measured: bool

    @property
    def is_dark(self) -> bool:
        """Whether nothing shines after the changes."""
        return not any(fixture.level > 0 for fixture in self.after)

    @property
    def is_same(self) -> bool:
        """Whether the fixtures shine as before."""
        return self.after == self.before


def transition_between(
    history: LightHistory,
    start: dt.datetime,
    end: dt.datetime,
    *,
    tried: Sequence[Lamp] | None = None,
) -> RigTransition | None:
    """Return the RigTransition from the fixtures at `start` to those at `end`, either way in time.

    `tried` are Lamps to think of instead of those at `end`. None where the log does not say what
    hung, or nothing of it changed.
    """
    # Levels at the start are as set: what tubes had lost by then is in the readings.
    before, described_at = history.lamps_at(start) or (), start
    measured = any(lamp.fixture.level > 0 for lamp in before)
    if not measured:
        later = [(c.rig, c.happened_at) for c in history.between(start, end) if c.rig]
        if not later:
            return None
        before, described_at = later[0]
    after = history.lamps_at(end)
    if after is None:
        return None
    left = aged_since(history, before, described_at, after, end)
    result = linked(before, after if tried is None else tried, left, measured)
    return None if result.is_same else result


def aged_since(
    history: LightHistory,
    before: Sequence[Lamp],
    start: dt.datetime,
    after: Sequence[Lamp],
    end: dt.datetime,
) -> tuple[Left, Left]:
    """Return by key what age left of each lamp's output at each end [1]."""
    if all(lamp.loss_percent is None for lamp in (*before, *after)):
        return {}, {}

    def left(lamps: Sequence[Lamp], moment: dt.datetime) -> Left:
        aged = history.aged_lamps_at(moment)
        set_levels = {lamp.key: lamp.fixture.level for lamp in lamps}
        return {
            lamp.key: lamp.fixture.level / set_levels[lamp.key]
            for lamp in aged or ()
            if set_levels.get(lamp.key)
        }

    return left(before, start), left(after, end)


def linked(
    before: Sequence[Lamp], after: Sequence[Lamp], left: tuple[Left, Left], measured: bool
) -> RigTransition:
    """Return the RigTransition between Lamps: those that hung before in their places, then new."""
    left_before, left_after = left
    now = {lamp.key: lamp for lamp in after}
    same_as: list[int | None] = []
    fixtures, prior_deviations = [], []
    for lamp in before:
        still = now.pop(lamp.key, None)
        if still is None:
            fixtures.append(replace(lamp.fixture, level=0.0))
            prior_deviations.append(0.0)
        else:
            aged = left_after.get(lamp.key, 1.0) / left_before.get(lamp.key, 1.0)
            fixtures.append(dimmed(still.fixture, aged))
            prior_deviations.append(AGEING_DEVIATION * math.log(aged))
        same_as.append(None)
    for lamp in after:
        if lamp.key in now:
            place, proportion, deviation = likeness(before, lamp)
            aged = left_after.get(lamp.key, 1.0) / left_before.get(before[place].key, 1.0)
            fixtures.append(dimmed(lamp.fixture, proportion * aged))
            same_as.append(place)
            prior_deviations.append(deviation)
    return RigTransition(
        before=tuple(lamp.fixture for lamp in before),
        after=tuple(fixtures),
        same_as=tuple(same_as),
        prior_deviations=tuple(prior_deviations),
        measured=measured,
    )


def dimmed(fixture: scene.Fixture, proportion: float) -> scene.Fixture:
    if proportion == 1:
        return fixture
    return replace(fixture, level=fixture.level * proportion)


def likeness(before: Sequence[Lamp], lamp: Lamp) -> tuple[int, float, float]:
    """Return whose output a new Lamp takes, times what, and the prior deviation of that [log]."""
    places = range(len(before))
    alike = [i for i in places if before[i].make[1:] == lamp.make[1:]]
    if alike:
        return alike[0], 1.0, 0.0
    for i in places:
        stated = before[i].ppf_umol_s
        if stated and lamp.ppf_umol_s and before[i].fixture.level > 0:
            return i, lamp.ppf_umol_s / stated, MAKE_STATED
    lit = [i for i in places if before[i].fixture.level > 0]
    return (lit or [0])[0], 1.0, MAKE_UNKNOWN


def field_after(
    field: LightField, transition: RigTransition, rocks: tuple[scene.Rock, ...]
) -> LightField:
    """Return the LightField after a RigTransition that is neither None nor dark."""
    if transition.measured and field.calibrated is not None:
        return field.forecast(
            transition.after, same_as=transition.same_as, deviations=transition.prior_deviations
        )
    return field.rescaled(
        transition.before, transition.after, same_as=transition.same_as, rocks=rocks
    )


def as_changed(transition: RigTransition | None) -> Changed | None:
    """Return a RigTransition as `LightPath.ratio` takes it, None standing for no change."""
    if transition is None:
        return None
    return transition.after, transition.same_as, transition.prior_deviations


class Followed:
    """A light field at fixed points (m, 3) [cm], under one RigTransition after another."""

    def __init__(
        self, field: LightField, points_cm: ArrayLike, rocks: tuple[scene.Rock, ...]
    ) -> None:
        self.path, self.rocks = LightPath(field, points_cm), rocks
        self._estimates: dict[RigTransition | None, Estimate] = {}

    def under(self, transition: RigTransition | None) -> Estimate:
        """Return the Estimate at the points; transition None stands for no change."""
        if transition not in self._estimates:
            self._estimates[transition] = self._estimate(transition)
        return self._estimates[transition]

    def ratio(self, first: RigTransition | None, second: RigTransition | None) -> FieldChange:
        """Return the FieldChange at the points between two RigTransitions, neither one dark."""
        path = self.path
        known = [o is None or o.measured for o in (first, second)]
        if all(known) and path.field.calibrated is not None:
            return path.ratio(as_changed(first), as_changed(second))
        change = np.log(self.under(second).par_umol / self.under(first).par_umol)
        part, ageing = self._ratio_deviations(first, second)
        half_width = HALF_WIDTH * np.hypot(part * change, ageing)
        return FieldChange(
            np.exp(change),
            np.exp(change - half_width),
            np.exp(change + half_width),
            half_width < np.abs(change),
            path.beyond & (half_width > EXACT),
            path.inside,
        )

    def _ratio_deviations(
        self, first: RigTransition | None, second: RigTransition | None
    ) -> tuple[float, float]:
        """Return how far the log of a ratio may be off: as a part of itself [1], and by age [log].

        What age made unsure of the fixtures described before is in both, and falls out.
        """
        known = first or second
        if known is None:
            return 0.0, 0.0
        before = first.after if first else known.before
        after = second.after if second else known.before
        new = np.zeros(len(known.before))
        aged = [np.array(o.prior_deviations[: len(new)]) if o else new for o in (first, second)]
        ageing = float(np.abs(aged[1] - aged[0]).max(initial=0.0))
        return ratio_deviation(self.path.field.tank, before, after), ageing

    def _estimate(self, transition: RigTransition | None) -> Estimate:
        path = self.path
        if transition is None:
            return path.now
        if transition.is_dark:
            dark = np.zeros(len(path.points))
            return Estimate(dark, dark, dark, np.zeros(len(dark), bool), path.inside)
        if transition.measured and path.field.calibrated is not None:
            return path.after(
                transition.after, same_as=transition.same_as, deviations=transition.prior_deviations
            )
        return field_after(path.field, transition, self.rocks).at(path.points)
