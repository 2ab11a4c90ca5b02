"""An acclimation as its page shows it: where it stands, its steps in words, what comes next."""

import datetime as dt
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone

from apps.common.moments import moment_text
from apps.common.units import format_length
from apps.corals.models import Coral
from apps.lighting.change.address import light_change_address
from apps.lighting.models import LightChange
from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of
from apps.planning.acclimation.following import ARRIVED, PAUSED, STALE, WAITING, Following
from apps.planning.acclimation.staleness import BY_RIG
from apps.planning.acclimation.step_settings import share_limit
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick

Means = Acclimation.Means
# A change of light is dated to this hour of the day it was ticked for. House rule.
USUAL_HOUR = 12


@dataclass(frozen=True)
class StepRow:
    number: int
    light_umol: float
    dli_mol: float | None
    setting_words: str
    planned_on: dt.date
    done_on: dt.date | None
    due_on: dt.date | None
    is_next: bool


@dataclass(frozen=True)
class AcclimationSheet:
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


def acclimation_sheet(plan, notes, rows_now, *, full_dli, unit):
    """Return the sheet of a plan read `with_all`, under the HungFixtures that hang now.

    `full_dli` gives the daily light of a PAR, or None; lengths are told in `unit`.
    """
    result = following_of(plan, notes, rows_now)
    steps, ticks = list(plan.steps.all()), list(plan.ticks.all())
    done = {tick.number: tick.done_on for tick in ticks}
    due = dict(result.days_ahead(len(steps), plan.every_days, plan.tank.today()))

    def row_of(step):
        return StepRow(
            number=step.number,
            light_umol=step.light_umol,
            dli_mol=full_dli(step.light_umol),
            setting_words=setting_words(plan, step.setting, unit),
            planned_on=plan.planned_on(step.number),
            done_on=done.get(step.number) if step.number <= result.position else None,
            due_on=due.get(step.number),
            is_next=step.number == result.next_number,
        )

    rows = tuple(row_of(step) for step in steps)
    ahead = (*rows, row_of(before_first(plan, steps))) if steps else ()
    last = ticks[-1] if ticks else None
    url, words = enter_last(plan, steps, last, unit)
    watched = watched_coral(plan, result, notes)
    return AcclimationSheet(
        plan=plan,
        following=result,
        rows=rows,
        state_words=state_words(plan, result, len(steps), watched),
        late_days=result.late_days(plan.tank.today()),
        watched=watched,
        next_row=next((row for row in ahead if row.is_next), None),
        next_words=next_words(result),
        last_tick=last,
        enter_url=url,
        enter_words=words,
        ends_on=due.get(len(steps)) or (result.reached_on if result.state == ARRIVED else None),
    )


def before_first(plan, steps):
    """Return the unsaved step that stands for the light before the first one.

    Levels and screens go with the light; lights come back to where they hung when the plan was
    made, and a coral to where it sat.
    """
    first = steps[0]
    by_share = plan.means in (Means.LEVEL, Means.SCREEN)
    if not by_share:
        return AcclimationStep(number=0, light_umol=plan.start_umol, setting=0.0)
    # The coral may come from more light than these lights have: they go to full, not beyond.
    setting = min(first.setting * plan.start_umol / first.light_umol, most_share(plan))
    light = first.light_umol * setting / first.setting
    return AcclimationStep(number=0, light_umol=light, setting=setting)


def most_share(plan):
    """Return the most light a plan's means can give, % of that when it was made."""
    top = max((row["level_percent"] for row in plan.rig), default=0.0)
    return share_limit(plan.means, top)


def watched_coral(plan, found, notes):
    """Return the coral whose note stops a plan, else the one it is for."""
    stopping = (n.coral for n in notes if found.why and n.coral_id == found.why.coral)
    return next(stopping, plan.coral)


def state_words(plan, found, steps, watched):
    """Say in a sentence where a plan stands; `watched` is the coral whose note may stop it."""
    at = f"at step {found.position} of {steps}" if found.position else "before its first step"
    if found.state == ARRIVED:
        return f"Arrived on {day_words(found.reached_on)}. Go on watching: it may still pale."
    if found.state == STALE:
        return f"Out of date {at}: {stale_words(plan, found)}"
    if found.state == PAUSED:
        on = day_words(found.why.on)
        return f"Paused {at}: {watched.name} was noted paling or bleaching on {on}."
    if found.state == WAITING:
        if found.why:
            return f"Waiting {at} for a note that {watched.name} looks well or gains colour again."
        since = day_words(found.reached_on)
        return f"Waiting {at} for a note from after {since} that {watched.name} looks well."
    if found.position:
        return f"Under way, {at}."
    if found.late_days(plan.tank.today()):
        return "Not begun yet."
    return f"Starts on {day_words(found.due_on)}."


def stale_words(plan, found):
    """Say in a sentence why the steps of a plan are no orders any more."""
    if found.stale_by == BY_RIG:
        return "what hangs above the tank changed since the plan was made."
    last = found.reached_on or plan.starts_on
    told = "last step was" if found.reached_on else "first step was planned"
    return f"its {told} on {day_words(last)}, and corals get used to the light they have."


def next_words(found):
    """Return the verb of the next step; empty when there is none."""
    if found.next_number is None:
        return ""
    if found.goes_back:
        to = f"step {found.next_number}" if found.next_number else "the light before the first step"
        return f"Go back to {to}"
    return f"Step {found.next_number}"


def day_words(day):
    return f"{day:%-d %b %Y}"


def setting_words(plan, setting, unit):
    """Say what to set for a step, in `unit` where it is a length."""
    if plan.means == Means.DEPTH and setting == 0:
        return "the coral where it sat"
    if plan.means == Means.LEVEL:
        levels = [
            (row, f"at {row['level_percent'] * setting / 100.0:.3g} %")
            for row in plan.rig if row["level_percent"]
        ]  # fmt: skip
        if not levels:
            return f"lights at {setting:.0f} % of their level when the plan was made"
        return by_lamp(levels)
    if plan.means == Means.HEIGHT:
        heights = [(row, format_length(row["height_cm"] + setting, unit)) for row in plan.rig]
        return by_lamp([(row, f"{told} {unit} above the water") for row, told in heights])
    if plan.means == Means.DEPTH:
        return f"coral {format_length(setting, unit)} {unit} below the surface"
    return "no screen" if setting >= 99.5 else f"a screen that lets {setting:.0f} % through"


def by_lamp(settings):
    """Say what to set at which lamp, for (row of a plan's rig, words); alike ones in one.

    Plans of before lamps were named in them call each by its number.
    """
    names = [row.get("name") for row, _ in settings]
    lamps = {}
    for row, words in settings:
        name, number = row.get("name"), row.get("number")
        if name is None:
            name = "lights" if len(settings) == 1 or number is None else f"lamp {number}"
        elif names.count(name) > 1 and number is not None:
            name = f"{name} {number}"
        named = lamps.setdefault(words, [])
        if name not in named:
            named.append(name)
    return ", ".join(f"{' and '.join(named)} {words}" for words, named in lamps.items())


def enter_last(plan, steps, tick, unit):
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
        reason=LightChange.Reason.STEP,
        # What the rows tell themselves is not told twice.
        factor=1.0 if rows else step.light_umol / light_before(plan, lights, tick),
        unit=unit,
        happened_at=moment_of(tick, plan.tank.zone),
    )
    return url, "Enter it in the light log"


def light_before(plan, lights, tick):
    """Return the PAR of the step that stood before a tick."""
    earlier = [other for other in plan.ticks.all() if other.pk != tick.pk]
    return lights[earlier[-1].number if earlier else 0].light_umol


def moment_of(tick, zone):
    """Return when a step was taken as a form's text: at noon, or as ticked on the day itself."""
    entered = tick.created_at.astimezone(zone)
    if entered.date() == tick.done_on:
        return moment_text(tick.created_at, zone)
    return f"{tick.done_on.isoformat()}T{USUAL_HOUR:02d}:00"


def rig_after(plan, step):
    """Return the HungFixtures of the rig after a step, counted from the plan's own rig."""
    if plan.means not in (Means.LEVEL, Means.HEIGHT):
        return []
    rows = rig_in_force(plan.tank, timezone.now())
    bases = {base["number"]: base for base in plan.rig}
    for row in rows:
        base = bases.get(row.number)
        if base and plan.means == Means.LEVEL:
            row.level_percent = round(base["level_percent"] * step.setting / 100.0, 2)
        elif base:
            row.height_cm = round(base["height_cm"] + step.setting, 2)
    return rows
