"""An acclimation as its page shows it: how it is with it, its steps in words, what comes next."""

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone

from apps.common.moments import moment_text
from apps.corals.models import Coral, HealthNote
from apps.lighting.change.address import light_change_address
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of
from apps.planning.acclimation.following import ARRIVED, Following
from apps.planning.acclimation.levels import is_led, step_level
from apps.planning.acclimation.step_back import before_first
from apps.planning.acclimation.words import next_words, setting_words, state_words, watched_coral
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick

Means = Acclimation.Means
# A change of light is dated to this hour of the day it was ticked for: chosen as the middle of it.
USUAL_HOUR = 12


@dataclass(frozen=True)
class StepRow:
    """One step as the table of steps has it."""

    number: int
    light_umol: float
    dli_mol: float | None
    setting_words: str
    planned_on: dt.date
    done_on: dt.date | None
    due_on: dt.date | None
    is_next: bool


@dataclass(frozen=True)
class AcclimationPage:
    """One acclimation as its page prints it."""

    plan: Acclimation
    following: Following
    rows: tuple[StepRow, ...]
    state_words: str
    # For how long the next step upward could have been taken already [d].
    late_days: int
    # Whose note stops the plan, else the coral it is for: the one to look at.
    watched: Coral
    next_row: StepRow | None
    next_words: str
    last_tick: AcclimationTick | None
    # Where the newest step is entered into the log, prefilled; empty when there is nothing to.
    enter_url: str
    enter_words: str
    ends_on: dt.date | None


def acclimation_page(
    plan: Acclimation,
    notes: Iterable[HealthNote],
    rig: Sequence[HungFixture],
    *,
    full_dli: Callable[[float], float | None],
    unit: str,
) -> AcclimationPage:
    """Return the page of a plan read `with_all`, under the rig that hangs now.

    `full_dli` gives the daily light [mol m-2 d-1] of a PAR [umol m-2 s-1], or None; lengths are in
    `unit`.
    """
    following = following_of(plan, notes, rig)
    steps, ticks = list(plan.steps.all()), list(plan.ticks.all())
    due = dict(following.days_ahead(len(steps), plan.every_days, plan.tank.today()))
    rows = tuple(step_row(plan, step, following, due, full_dli, unit) for step in steps)
    first = [before_first(plan, steps)] if steps else []
    ahead = (*rows, *(step_row(plan, one, following, due, full_dli, unit) for one in first))
    last = ticks[-1] if ticks else None
    url, words = enter_last(plan, steps, last, unit)
    watched = watched_coral(plan, following, notes)
    return AcclimationPage(
        plan=plan,
        following=following,
        rows=rows,
        state_words=state_words(plan, following, len(steps), watched),
        late_days=following.late_days(plan.tank.today()),
        watched=watched,
        next_row=next((row for row in ahead if row.is_next), None),
        next_words=next_words(following),
        last_tick=last,
        enter_url=url,
        enter_words=words,
        ends_on=due.get(len(steps))
        or (following.reached_on if following.state == ARRIVED else None),
    )


def step_row(
    plan: Acclimation,
    step: AcclimationStep,
    following: Following,
    due: dict[int, dt.date],
    full_dli: Callable[[float], float | None],
    unit: str,
) -> StepRow:
    """Return the StepRow of a step; `due` are the days of the steps ahead, by number."""
    done = {tick.number: tick.done_on for tick in plan.ticks.all()}
    return StepRow(
        number=step.number,
        light_umol=step.light_umol,
        dli_mol=full_dli(step.light_umol),
        setting_words=setting_words(plan, step.setting, unit),
        planned_on=plan.planned_on(step.number),
        done_on=done.get(step.number) if step.number <= following.position else None,
        due_on=due.get(step.number),
        is_next=step.number == following.next_number,
    )


def enter_last(
    plan: Acclimation, steps: list[AcclimationStep], tick: AcclimationTick | None, unit: str
) -> tuple[str, str]:
    """Return (address, words) to enter the newest tick where the light or the spot is kept."""
    if tick is None or (tick.number == 0 and plan.means == Means.DEPTH):
        return "", ""
    lights = [before_first(plan, steps), *steps]
    step = lights[tick.number]
    if plan.means == Means.DEPTH:
        spot = plan.coral.spot_on(tick.done_on)
        query = {
            "x_cm": f"{spot.x_cm:g}", "y_cm": f"{spot.y_cm:g}", "depth_cm": f"{step.setting:.1f}",
            "since": tick.done_on.isoformat(),
        } if spot else {}  # fmt: skip
        url = reverse("spot_new", args=[plan.coral_id])
        return f"{url}?{urlencode(query)}", "Enter the move"
    rows = rig_after(plan, step)
    url = light_change_address(
        plan.tank_id,
        rows,
        summary=f"Acclimation, step {tick.number}: {setting_words(plan, step.setting, unit)}",
        reason=str(LightChange.Reason.STEP),
        # What the rows state themselves is not stated twice.
        factor=1.0 if rows else step.light_umol / light_before(plan, lights, tick),
        unit=unit,
        happened_at=moment_of(tick, plan.tank.zone),
    )
    return url, "Enter it in the light log"


def light_before(plan: Acclimation, lights: list[AcclimationStep], tick: AcclimationTick) -> float:
    """Return the PAR of the step that stood before a tick."""
    earlier = [other for other in plan.ticks.all() if other.pk != tick.pk]
    before: float = lights[earlier[-1].number if earlier else 0].light_umol
    return before


def moment_of(tick: AcclimationTick, zone: dt.tzinfo) -> str:
    """Return when a step was taken as a form's text: at noon, or as ticked on the day itself."""
    entered = tick.created_at.astimezone(zone)
    if entered.date() == tick.done_on:
        return moment_text(tick.created_at, zone)
    return f"{tick.done_on.isoformat()}T{USUAL_HOUR:02d}:00"


def rig_after(plan: Acclimation, step: AcclimationStep) -> list[HungFixture]:
    """Return the HungFixtures of the rig after a step, counted from the plan's own rig."""
    if plan.means not in (Means.LEVEL, Means.HEIGHT):
        return []
    rows = rig_in_force(plan.tank, timezone.now())
    bases = {base["number"]: base for base in plan.rig}
    for row in rows:
        base = bases.get(row.number)
        if base and plan.means == Means.HEIGHT:
            row.height_cm = round(base["height_cm"] + step.setting, 2)
        elif base and is_led(base):
            row.level_percent = step_level(plan, base["level_percent"], step.setting)
    return rows
