"""The plain words of an acclimation: how it is with it, what comes next, what to set."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from apps.common.units import format_length, percent_words
from apps.corals.models import Coral, HealthNote
from apps.planning.acclimation.following import ARRIVED, PAUSED, STALE, WAITING, Following
from apps.planning.acclimation.levels import is_led, step_level
from apps.planning.acclimation.staleness import BY_RIG
from apps.planning.models import Acclimation

Means = Acclimation.Means
# One fixture of the rig that a plan is counted from, as it is stored.
Lamp = Mapping[str, object]
# A screen that lets through so much is none [%]: chosen, because a meter shows no less.
NO_SCREEN_FROM_PERCENT = 99.5


def watched_coral(plan: Acclimation, following: Following, notes: Iterable[HealthNote]) -> Coral:
    """Return the coral whose note stops a plan, else the one it is for."""
    stopping = (n.coral for n in notes if following.why and n.coral_id == following.why.coral)
    coral: Coral = next(stopping, plan.coral)
    return coral


def state_words(plan: Acclimation, following: Following, steps: int, watched: Coral) -> str:
    """Say in a sentence where a plan stands; `watched` is the coral whose note may stop it."""
    at = (
        f"at step {following.position} of {steps}"
        if following.position
        else "before its first step"
    )
    if following.state == ARRIVED:
        return f"Arrived on {day_words(following.reached_on)}. Go on watching: it may still pale."
    if following.state == STALE:
        return f"Out of date {at}: {stale_words(plan, following)}"
    if following.state == PAUSED:
        on = day_words(following.why.on if following.why else None)
        return f"Paused {at}: {watched.name} was noted paling or bleaching on {on}."
    if following.state == WAITING:
        if following.why:
            return f"Waiting {at} for a note that {watched.name} looks well or gains colour again."
        since = day_words(following.reached_on)
        return f"Waiting {at} for a note from after {since} that {watched.name} looks well."
    if following.position:
        return f"Under way, {at}."
    if following.late_days(plan.tank.today()):
        return "Not begun yet."
    return f"Starts on {day_words(following.due_on)}."


def stale_words(plan: Acclimation, following: Following) -> str:
    """Say in a sentence why the steps of a plan are no orders any more."""
    if following.stale_by == BY_RIG:
        return "what hangs above the tank changed since the plan was made."
    last = following.reached_on or plan.starts_on
    since = "last step was" if following.reached_on else "first step was planned"
    return f"its {since} on {day_words(last)}, and corals get used to the light they have."


def next_words(following: Following) -> str:
    """Return the verb of the next step; empty when there is none."""
    if following.next_number is None:
        return ""
    if following.goes_back:
        to = (
            f"step {following.next_number}"
            if following.next_number
            else "the light before the first step"
        )
        return f"Go back to {to}"
    return f"Step {following.next_number}"


def day_words(day: dt.date | None) -> str:
    return "" if day is None else f"{day:%-d %b %Y}"


def setting_words(plan: Acclimation, setting: float, unit: str) -> str:
    """Say what to set for a step, in `unit` where it is a length."""
    if plan.means == Means.DEPTH and setting == 0:
        return "the coral where it sat"
    if plan.means == Means.LEVEL:
        led = [row for row in plan.rig if is_led(row)]
        levels = [
            (row, f"at {step_level(plan, row['level_percent'], setting):.3g}\u00a0%")
            for row in led if row["level_percent"]
        ]  # fmt: skip
        if not levels:
            return f"lights at {percent_words(setting)} of their level when the plan was made"
        return by_lamp(levels, len(led))
    if plan.means == Means.HEIGHT:
        heights = [(row, format_length(row["height_cm"] + setting, unit)) for row in plan.rig]
        places = [(row, f"{length} {unit} above the water") for row, length in heights]
        return by_lamp(places, len(plan.rig))
    if plan.means == Means.DEPTH:
        return f"coral {format_length(setting, unit)} {unit} below the surface"
    return (
        "no screen"
        if setting >= NO_SCREEN_FROM_PERCENT
        else f"a screen that lets {percent_words(setting)} through"
    )


def by_lamp(settings: Sequence[tuple[Lamp, str]], many: int) -> str:
    """Say what to set at which lamp, for (row of a plan's rig, words); alike ones in one.

    `many` hang in all; where all are set alike none is named.

    Plans of before lamps were named in them call each by its number.
    """
    if many == len(settings) > 1 and len({words for _, words in settings}) == 1:
        return f"{'both' if many == 2 else f'all {many}'} lamps {settings[0][1]}"
    names = [row.get("name") for row, _ in settings]
    lamps: dict[str, list[str]] = {}
    for row, words in settings:
        name, number = row.get("name"), row.get("number")
        called = str(name)
        if name is None:
            called = "lights" if len(settings) == 1 or number is None else f"lamp {number}"
        elif names.count(name) > 1 and number is not None:
            called = f"{name} {number}"
        named = lamps.setdefault(words, [])
        if called not in named:
            named.append(called)
    return ", ".join(f"{' and '.join(named)} {words}" for words, named in lamps.items())
