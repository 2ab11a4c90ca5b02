"""What a light change did, as a title says it, and of which kind that is."""

from collections.abc import Sequence

from django.utils.text import get_text_list

from apps.common.units import format_length
from apps.lighting.change.rehanging import rows_before
from apps.lighting.change.summary import Difference, Event, Step, rig_differences
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.rig import rig_in_force

# A title says so many things at most, and of each lamp so many: our own choice, as the log has one
# line for it.
THINGS_MOST, PHRASES_MOST = 3, 3
# Levels turned by factors nearer than this were turned alike [1]: they are whole percents.
ALIKE_WITHIN = 0.015
EVENTS = {Event.HUNG: "hung", Event.TAKEN_DOWN: "taken down", Event.REMADE: "replaced"}
# What is said of a setting that grew, and of one that fell.
LENGTH_WAYS = {
    "height_cm": ("raised by {}", "lowered by {}"),
    "x_cm": ("moved {} to the right", "moved {} to the left"),
    "y_cm": ("moved {} to the back", "moved {} to the front"),
}
LEVEL_WAYS = ("turned up to {:g} %", "turned down to {:g} %")
ANGLE_WORDS = {
    "beam_in_force_deg": "changed to a {:g}° lens",
    "turn_deg": "rotated to {:g}°",
    "tilt_deg": "tilted to {:g}°",
}
Reason = LightChange.Reason
# The kinds that settings make a change; the first of several names it.
KINDS = (
    (Reason.LENS, ("beam_in_force_deg",)),
    (Reason.RAISED, ("height_cm",)),
    (Reason.MOVED, ("x_cm", "y_cm", "turn_deg", "tilt_deg")),
    (Reason.LEVEL, ("level_percent", "channel_levels")),
)


def rig_title(
    before: Sequence[HungFixture] | None, after: Sequence[HungFixture], *, unit: str
) -> str:
    """Return what was done to the lamps, with its numbers; "" where nothing, or too much, was.

    All rows have numbers; before may be None: unknown.
    """
    differences = rig_differences(before, after, unit=unit)
    alike = turned_alike(differences, len(after))
    if alike:
        return alike
    names: dict[str, list[str]] = {}
    for one in differences:
        said = phrase_of(one)
        if said:
            names.setdefault(said, []).append(one.name)
    if not 0 < len(names) <= THINGS_MOST:
        return ""
    things = [f"{get_text_list(of_whom, 'and')} {said}" for said, of_whom in names.items()]
    return "; ".join(things)


def turned_alike(differences: Sequence[Difference], many: int) -> str:
    """Return the title of levels that all went by one factor to different ones, "" for others."""
    steps = [step for one in differences for step in one.steps]
    if len(differences) != many or many < 2 or len(steps) != many:
        return ""
    if any(one.event != Event.SET for one in differences):
        return ""
    factors = [s.after / s.before for s in steps
               if s.field == "level_percent" and s.before and s.after]  # fmt: skip
    if len(factors) != many or max(factors) / min(factors) > 1 + ALIKE_WITHIN:
        return ""
    percent = 100 * (sum(factors) / many - 1)
    if min(factors) < 1 < max(factors) or round(percent) == 0:
        return ""
    way = "brighter" if percent > 0 else "dimmer"
    whole = "Both lamps" if many == 2 else f"All {many} lamps"
    return f"{whole} {abs(percent):.0f} % {way}"


def phrase_of(difference: Difference) -> str:
    """Return what was done to one lamp, or to several alike; "" for nothing that shows."""
    if difference.event in EVENTS:
        return EVENTS[difference.event]
    said = [words for step in difference.steps if (words := step_phrase(step, difference.unit))]
    if len(said) > PHRASES_MOST:
        return "changed in several ways"
    return (" and " if len(said) < PHRASES_MOST else ", ").join(said)


def step_phrase(step: Step, unit: str) -> str:
    """Return what was done by one Step; "" for what follows from others."""
    if step.before is None or step.after is None:
        return ""
    is_less = step.after < step.before
    if step.field in LENGTH_WAYS:
        by = f"{format_length(abs(step.after - step.before), unit)} {unit}"
        return LENGTH_WAYS[step.field][is_less].format(by)
    if step.field in ANGLE_WORDS:
        return ANGLE_WORDS[step.field].format(step.after)
    if step.field in ("level_percent", "channel_levels"):
        whose = f"{step.channel} " if step.channel else ""
        return f"{whose}{LEVEL_WAYS[is_less].format(step.after)}"
    return ""


def rig_reason(before: Sequence[HungFixture] | None, after: Sequence[HungFixture]) -> str:
    """Return the Reason that a change between two rigs is of, OTHER where nothing changed."""
    differences = rig_differences(before, after, unit="cm")
    if any(one.event != Event.SET for one in differences):
        return str(Reason.HUNG)
    steps = [step for one in differences for step in one.steps]
    touched = {step.field for step in steps}
    kind = next((kind for kind, fields in KINDS if touched & set(fields)), Reason.OTHER)
    if kind is not Reason.RAISED:
        return str(kind)
    heights = ((s.before, s.after) for s in steps if s.field == "height_cm")
    falls = {new < old for old, new in heights if old is not None and new is not None}
    if len(falls) > 1:
        return str(Reason.MOVED)
    return str(Reason.LOWERED if falls == {True} else Reason.RAISED)


def title_of(
    change: LightChange,
    before: Sequence[HungFixture] | None,
    after: Sequence[HungFixture],
    *,
    unit: str,
) -> str:
    """Return a change's title: its keeper's words, else what it did, else its kind.

    `before` and `after` are the lamps as they hung, with numbers. Made whenever it is shown, so
    that it stays true where an earlier change is entered, edited or deleted.
    """
    if change.summary or change.cover_title:
        return str(change.title)
    done = rig_title(before, after, unit=unit) if change.tells_rig else ""
    if not done and (percent := round(100 * (change.factor - 1))):
        way = "more" if percent > 0 else "less"
        return f"{change.title}: {abs(percent)} % {way} light"
    return done or str(change.title)


def saved_title(change: LightChange, *, unit: str) -> str:
    """Return the title of a change that was just saved."""
    before = rig_in_force(change.tank, change.happened_at, without=change)
    return title_of(change, before, rows_before(change), unit=unit)
