"""Whether an acclimation still fits: its steps are counted from the rig and the light of a day."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from apps.lighting.models import HungFixture
from apps.planning.acclimation.following import ARRIVED, STALE, WATCH_DAYS, Following
from apps.planning.acclimation.levels import exact_level, step_level
from apps.planning.acclimation.step_back import before_first
from apps.planning.models import Acclimation

Means = Acclimation.Means
# The setting of a lamp that the steps of a plan move themselves.
MOVED = {Means.LEVEL: "level_percent", Means.HEIGHT: "height_cm"}
# So long past its day a step no longer starts from the light the coral has [d]: chosen as
# long as a paling speaks against the last step.
STALE_DAYS = WATCH_DAYS
# Settings nearer than this are the same: steps are logged rounded [% or cm]: chosen above that.
SAME_WITHIN = 0.5
BY_TIME, BY_RIG = "time", "rig"


def gone_stale(
    following: Following, plan: Acclimation, rows: Sequence[HungFixture], today: dt.date
) -> Following:
    """Return the Following, STALE where too long ago or under another rig than the plan's.

    `plan` is read `with_all`; `rows` are the HungFixtures that hang today.
    """
    if following.state == ARRIVED:
        return following
    last_on = following.reached_on or plan.starts_on
    until = last_on + dt.timedelta(days=plan.every_days + STALE_DAYS)
    if rig_moved(plan, rows):
        return replace(following, state=STALE, next_number=None, due_on=today, stale_by=BY_RIG)
    if today > until:
        return replace(following, state=STALE, next_number=None, due_on=until, stale_by=BY_TIME)
    return following


def rig_moved(plan: Acclimation, rows: Sequence[HungFixture]) -> bool:
    """Return whether another rig hangs than the plan was counted from and its own steps made."""
    bases = {base["number"]: base for base in plan.rig if "number" in base}
    if not bases or not rows:
        # Nobody says what hung then, or what hangs now: no change is known.
        return False
    if {row.number for row in rows} != bases.keys():
        return True
    return any(lamp_moved(plan, row, bases[row.number]) for row in rows)


def lamp_moved(plan: Acclimation, row: HungFixture, base: Mapping[str, object]) -> bool:
    """Return whether one HungFixture is set as neither the plan nor any of its steps sets it."""
    moved = MOVED.get(plan.means)
    for name, stored in base.items():
        if name in ("number", "name") or not hasattr(row, name):
            continue
        here = getattr(row, name)
        if name == moved and isinstance(stored, int | float):
            if not any(abs(here - value) <= SAME_WITHIN for value in step_values(plan, stored)):
                return True
        elif differs(here, stored):
            return True
    return False


def differs(here: object, stored: object) -> bool:
    """Return whether two settings differ by more than rounding."""
    if isinstance(here, int | float) and isinstance(stored, int | float):
        return abs(here - stored) > SAME_WITHIN
    return here != stored


def step_values(plan: Acclimation, stored: float) -> Iterator[float]:
    """Yield what a lamp's moved setting may be: as it was, or after any step of the plan."""
    yield stored
    steps = list(plan.steps.all())
    settings = [step.setting for step in steps]
    if plan.means == Means.LEVEL and steps:
        settings.append(before_first(plan, steps).setting)
        # Those who set lamps finer than in whole percent have set what was wanted.
        yield from (exact_level(stored, setting) for setting in settings)
        yield from (step_level(plan, stored, setting) for setting in settings)
    else:
        yield from (stored + setting for setting in settings)
