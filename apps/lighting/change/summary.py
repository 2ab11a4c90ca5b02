"""What a light change changed, in words, from the states before and after it."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from apps.common.units import format_length, percent_words
from apps.lighting.day_run import DayRun, DaySchedule, Schedule
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.optic_models import channel_steps

# A factor within this of what the levels say already is taken for the same thing said twice [log],
# and one that goes the other way by more than this for a contradiction. House rules.
TWICE_WITHIN = 0.35
OPPOSITE_FROM = 0.05


# How the settings of a fixture are said: where it hangs, as it was hung, and as it changed.
PLACES = {"height_cm": "above the water", "x_cm": "from the left", "y_cm": "from the front"}
HUNG_AS = {
    "level_percent": "at {0.after:g}\u00a0%",
    "tilt_deg": "tilted by {0.after:g}°",
    "channel_levels": "{0.channel} at {0.after:g}\u00a0%",
    "light_percent": "together {0.after:.3g}\u00a0% of its PAR",
}
CHANGED = {
    "turn_deg": "turned {0.before:g} → {0.after:g}°",
    "tilt_deg": "tilted {0.before:g} → {0.after:g}°",
    "beam_in_force_deg": "{0.after:g}° lens fitted, {0.before:g}° before",
    "level_percent": "level {0.before:g} → {0.after:g}\u00a0%",
    "channel_levels": "{0.channel} {0.before:g} → {0.after:g}\u00a0%",
    "light_percent": "together {0.before:.3g} → {0.after:.3g}\u00a0% of its PAR",
}


class Event(StrEnum):
    """What happened to a fixture, and how that begins."""

    HUNG = "hung"
    SET = ""
    REMADE = "now another make"
    TAKEN_DOWN = "taken down"


@dataclass(frozen=True)
class Step:
    """A setting of a HungFixture: its field, the value before and after, and whose channel's.

    before is None where it was just hung; both may be None for a loss that is not reckoned.
    """

    field: str
    before: float | None
    after: float | None
    channel: str = ""


@dataclass(frozen=True)
class Difference:
    """One fixture's change: who, what happened, its settings, and the unit they are said in."""

    name: str
    event: Event
    steps: tuple[Step, ...]
    unit: str

    @property
    def words(self) -> tuple[str, ...]:
        first = (str(self.event),) if self.event else ()
        return (*first, *(step_words(step, self.unit) for step in self.steps))

    def __str__(self) -> str:
        return f"{self.name}: {', '.join(self.words)}"


def rig_differences(
    before: Iterable[HungFixture] | None, after: Iterable[HungFixture], *, unit: str
) -> tuple[Difference, ...]:
    """Return the Differences between two lists of HungFixtures; before may be None: unknown."""
    old = {row.number: row for row in before or ()}
    new = {row.number: row for row in after}
    names = names_of([*old.values(), *new.values()])
    differences = []
    for number, row in new.items():
        if number not in old:
            event, steps = Event.HUNG, tuple(hung_steps(row))
        else:
            event = Event.SET if old[number].make == row.make else Event.REMADE
            steps = tuple(setting_steps(old[number], row))
        if event or steps:
            differences.append(Difference(names[number], event, steps, unit))
    differences += [Difference(names[n], Event.TAKEN_DOWN, (), unit) for n in old if n not in new]
    return joined(differences, len(new))


def names_of(rows: Sequence[HungFixture]) -> dict[int, str]:
    """Return what to call each number: the name, with the number where it takes one."""
    numbers: dict[str, set[int]] = {}
    for row in rows:
        numbers.setdefault(row.name, set()).add(row.number)
    return {
        row.number: row.name if len(numbers[row.name]) == 1 else f"{row.name} {row.number}"
        for row in rows
    }


def joined(differences: list[Difference], many: int) -> tuple[Difference, ...]:
    """Return Differences with one for all fixtures where every one changed alike."""
    alike = {replace(one, name="") for one in differences}
    if many > 1 and len(differences) == many and len(alike) == 1:
        return (replace(alike.pop(), name="Both lamps" if many == 2 else f"All {many} lamps"),)
    return tuple(differences)


def hung_steps(row: HungFixture) -> Iterator[Step]:
    """Return the Steps that tell how a fixture was hung."""
    yield Step("height_cm", None, row.height_cm)
    yield Step("level_percent", None, row.level_percent)
    if row.tilt_deg:
        yield Step("tilt_deg", None, row.tilt_deg)
    if row.channel_levels:
        yield from (
            Step("channel_levels", None, level, name) for name, level in row.channel_levels.items()
        )
        yield Step("light_percent", None, row.light_percent)


def setting_steps(old: HungFixture, new: HungFixture) -> Iterator[Step]:
    """Return the Steps between the settings of one fixture."""

    def stepped(*fields: str) -> Iterator[Step]:
        for field in fields:
            before, after = getattr(old, field), getattr(new, field)
            if before != after:
                yield Step(field, before, after)

    yield from stepped(*PLACES, "turn_deg", "tilt_deg", "beam_in_force_deg", "level_percent")
    moved = [
        Step("channel_levels", before, after, name)
        for name, before, after in channel_steps(old, new)
    ]
    yield from moved
    if moved:
        yield Step("light_percent", old.light_percent, new.light_percent)
    yield from stepped("loss_percent")


def step_words(step: Step, unit: str) -> str:
    """Say a Step, lengths in the keeper's unit."""
    if step.field in PLACES:
        ends = [format_length(v, unit) for v in (step.before, step.after) if v is not None]
        return f"{' → '.join(ends)} {unit} {PLACES[step.field]}"
    if step.field == "loss_percent":
        ends = [
            "not reckoned" if v is None else percent_words(v, "g")
            for v in (step.before, step.after)
        ]
        return f"loss in 1,000 hours {' → '.join(ends)}"
    return (HUNG_AS if step.before is None else CHANGED)[step.field].format(step)


def day_difference(before: Schedule | None, after: Schedule | None) -> str:
    """Return how the day differs in words, "" where it does not.

    before, after: DaySchedules or DayRuns, None where nobody entered any.
    """
    if after is None or before == after:
        return ""
    if before is None or isinstance(before, DayRun) or isinstance(after, DayRun):
        return f"day of {after.words}" if isinstance(after, DaySchedule) else after.words
    words = []
    if before.day_hours != after.day_hours:
        words.append(f"day {before.day_hours:g} → {after.day_hours:g}\u00a0h")
    if before.ramp_hours != after.ramp_hours:
        words.append(f"ramps {before.ramp_hours:g} → {after.ramp_hours:g}\u00a0h")
    return ", ".join(words)


def level_ratio(
    before: Iterable[HungFixture] | None, after: Iterable[HungFixture] | None
) -> float | None:
    """Return what the levels alone make of the light [1]; None where more than levels changed.

    Fixtures weigh by their levels before, as their outputs are not known here.
    """
    old = {row.number: row for row in before or ()}
    new = {row.number: row for row in after or ()}
    if not old or old.keys() != new.keys():
        return None
    places = ("x_cm", "y_cm", "height_cm", "turn_deg", "tilt_deg", "beam_in_force_deg", "make")
    if any(getattr(old[n], p) != getattr(new[n], p) for n in old for p in places):
        return None
    lit = sum(row.light_percent for row in old.values())
    return sum(row.light_percent for row in new.values()) / lit if lit else None


class Doubt(StrEnum):
    """What in a change does not go together."""

    SAID_TWICE = "said_twice"
    OPPOSITE = "opposite"
    REASON = "reason"


@dataclass(frozen=True)
class Contradiction:
    """A Doubt about a change, with the sentence that asks its keeper to check it."""

    doubt: Doubt
    words: str

    def __str__(self) -> str:
        return self.words


def contradictions(
    change: LightChange,
    before: Sequence[HungFixture] | None,
    after: Sequence[HungFixture] | None,
) -> tuple[Contradiction, ...]:
    """Return what a change tells that does not go together, for its keeper to check.

    before and after: the HungFixtures, None or [] where nobody entered any.
    """
    result = []
    ratio = level_ratio(before, after) if change.tells_rig else None
    if ratio and ratio != 1 and change.factor != 1:
        levels, factor = math.log(ratio), math.log(change.factor)
        if abs(levels - factor) < TWICE_WITHIN * abs(levels):
            words = (
                f"The levels already make the light × {ratio:.3g}, and the factor × "
                f"{change.factor:.3g} is reckoned on top of it. If it means the same, set it to 1."
            )
            result.append(Contradiction(Doubt.SAID_TWICE, words))
        elif levels * factor < 0 and abs(factor) > OPPOSITE_FROM:
            words = (
                f"The levels make the light × {ratio:.3g}, the factor says × {change.factor:.3g} "
                "too: one goes up, the other down. Both are counted."
            )
            result.append(Contradiction(Doubt.OPPOSITE, words))
    if before and after and change.tells_rig:
        result += reason_contradictions(change.reason, before, after)
    return tuple(result)


def reason_contradictions(
    reason: str, before: Iterable[HungFixture], after: Iterable[HungFixture]
) -> list[Contradiction]:
    """Return a Contradiction where the reason says what no fixture did."""
    old = {row.number: row for row in before}
    pairs = [(old[row.number], row) for row in after if row.number in old]
    if not pairs:
        return []
    kinds = LightChange.Reason
    rises: dict[object, tuple[str, list[bool]]] = {
        kinds.RAISED: ("raised", [b.height_cm > a.height_cm for a, b in pairs]),
        kinds.LOWERED: ("lowered", [b.height_cm < a.height_cm for a, b in pairs]),
        kinds.FRAG: ("dimmed", [b.light_percent < a.light_percent for a, b in pairs]),
        kinds.LENS: (
            "given another lens",
            [b.beam_in_force_deg != a.beam_in_force_deg for a, b in pairs],
        ),
    }
    if reason in rises and not any(rises[reason][1]):
        words = f"It says {rises[reason][0]}, but no lamp’s numbers changed that way."
        return [Contradiction(Doubt.REASON, words)]
    return []
