"""What a light change changed, in words, from the states before and after it."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from apps.common.units import format_length
from apps.lighting.day_run import DayRun, DaySchedule, Schedule
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.optic_models import channel_steps

# A factor within this of what the levels say already is taken for the same thing said twice [log],
# and one that goes the other way by more than this for a contradiction. House rules.
TWICE_WITHIN = 0.35
OPPOSITE_FROM = 0.05


@dataclass(frozen=True)
class Difference:
    """One fixture's change: who, what, and for 1 of its level before [1], None if that is moot."""

    name: str
    words: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.name}: {', '.join(self.words)}" if self.words else self.name


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
            words = ("hung", *place_words(row, unit))
        elif old[number].make != row.make:
            words = ("now another make", *setting_words(old[number], row, unit))
        else:
            words = tuple(setting_words(old[number], row, unit))
        if words:
            differences.append(Difference(names[number], words))
    differences += [Difference(names[n], ("taken down",)) for n in old if n not in new]
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
    if many > 1 and len(differences) == many and len({one.words for one in differences}) == 1:
        return (Difference(f"All {many} lamps", differences[0].words),)
    return tuple(differences)


def place_words(row: HungFixture, unit: str) -> Iterator[str]:
    """Say how a fixture was hung."""
    yield f"{format_length(row.height_cm, unit)} {unit} above the water"
    yield f"at {row.level_percent:g} %"
    if row.tilt_deg:
        yield f"tilted by {row.tilt_deg:g}°"
    if row.channel_levels:
        yield from (f"{name} at {level:g} %" for name, level in row.channel_levels.items())
        yield f"together {row.light_percent:.3g} % of its PAR"


def setting_words(old: HungFixture, new: HungFixture, unit: str) -> Iterator[str]:
    """Say how the settings of one fixture differ."""
    if new.height_cm != old.height_cm:
        yield f"{step(old.height_cm, new.height_cm, unit)} {unit} above the water"
    if new.x_cm != old.x_cm:
        yield f"{step(old.x_cm, new.x_cm, unit)} {unit} from the left"
    if new.y_cm != old.y_cm:
        yield f"{step(old.y_cm, new.y_cm, unit)} {unit} from the front"
    if new.turn_deg != old.turn_deg:
        yield f"turned {old.turn_deg:g} → {new.turn_deg:g}°"
    if new.tilt_deg != old.tilt_deg:
        yield f"tilted {old.tilt_deg:g} → {new.tilt_deg:g}°"
    if new.beam_in_force_deg != old.beam_in_force_deg:
        yield f"{new.beam_in_force_deg:g}° lens fitted, {old.beam_in_force_deg:g}° before"
    if new.level_percent != old.level_percent:
        yield f"level {old.level_percent:g} → {new.level_percent:g} %"
    moved = list(channel_steps(old, new))
    yield from (f"{name} {before:g} → {after:g} %" for name, before, after in moved)
    if moved:
        yield f"together {old.light_percent:.3g} → {new.light_percent:.3g} % of its PAR"
    if new.loss_percent != old.loss_percent:
        ends = [
            "not reckoned" if v is None else f"{v:g} %"
            for v in (old.loss_percent, new.loss_percent)
        ]
        yield f"loss in 1,000 hours {' → '.join(ends)}"


def step(old_cm: float, new_cm: float, unit: str) -> str:
    return f"{format_length(old_cm, unit)} → {format_length(new_cm, unit)}"


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
        words.append(f"day {before.day_hours:g} → {after.day_hours:g} h")
    if before.ramp_hours != after.ramp_hours:
        words.append(f"ramps {before.ramp_hours:g} → {after.ramp_hours:g} h")
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


def contradictions(
    change: LightChange,
    before: Sequence[HungFixture] | None,
    after: Sequence[HungFixture] | None,
) -> tuple[str, ...]:
    """Return sentences on what a change tells that does not go together, for its keeper to check.

    before and after: the HungFixtures, None or [] where nobody entered any.
    """
    result = []
    ratio = level_ratio(before, after) if change.tells_rig else None
    if ratio and ratio != 1 and change.factor != 1:
        levels, factor = math.log(ratio), math.log(change.factor)
        if abs(levels - factor) < TWICE_WITHIN * abs(levels):
            result.append(
                f"The levels already make the light × {ratio:.3g}, and the factor × "
                f"{change.factor:.3g} is reckoned on top of it. If it means the same, set it to 1."
            )
        elif levels * factor < 0 and abs(factor) > OPPOSITE_FROM:
            result.append(
                f"The levels make the light × {ratio:.3g}, the factor says × {change.factor:.3g} "
                "too: one goes up, the other down. Both are counted."
            )
    if before and after and change.tells_rig:
        result += reason_contradictions(change.reason, before, after)
    return tuple(result)


def reason_contradictions(
    reason: str, before: Iterable[HungFixture], after: Iterable[HungFixture]
) -> list[str]:
    """Return sentences where the reason says what no fixture did."""
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
        return [f"It says {rises[reason][0]}, but no lamp’s numbers changed that way."]
    return []
