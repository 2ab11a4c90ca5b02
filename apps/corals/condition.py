"""What the six conditions mean, and when a change between two notes counts as real.

The scale is our own. The rule is that of a published six-step scale of coral colour: observers
differ by one step, two steps mean a real change (Siebeck, Marshall, Klüter & Hoegh-Guldberg 2006,
"Monitoring coral bleaching using a colour reference card", Coral Reefs 25). That it holds for
ours too is a house rule: nobody has tested it.
"""

from dataclasses import dataclass, replace

from apps.corals.models import HealthNote

Condition = HealthNote.Condition

MEANINGS = {
    Condition.THRIVING: "Full colour, polyps well out, new growth to be seen.",
    Condition.GOOD: "Its usual colour and polyps as always. Nothing to remark.",
    Condition.OFF: "Something small: a shade paler or duller, or polyps less far out.",
    Condition.POOR: "Anyone would see it: clearly pale or brown, or closed most of the day.",
    Condition.BAD: "Mostly white or brown, or losing tissue in places.",
    Condition.FAILING: "Little living tissue left, or white all over.",
}
REAL_STEPS = 2
# Conditions of which nothing more has to be said.
WELL_FROM = Condition.GOOD
GOOD_SIGNS = {HealthNote.Seen.WELL, HealthNote.Seen.GROWTH, HealthNote.Seen.COLOUR_GAIN}
STEP_WORDS = ("no", "one", "two", "three", "four", "five")


@dataclass(frozen=True)
class Change:
    """Steps between two conditions (upward positive) and what they are worth."""

    steps: int
    # Seen by another than the last time.
    other_eyes: bool = False

    @property
    def is_real(self) -> bool:
        return abs(self.steps) >= REAL_STEPS

    @property
    def words(self) -> str:
        if not self.steps:
            return "as last time"
        count = abs(self.steps)
        way = "better" if self.steps > 0 else "worse"
        steps = f"{STEP_WORDS[count]} step{'' if count == 1 else 's'} {way}"
        if self.is_real:
            return f"{steps}: a real change"
        if self.other_eyes:
            return f"{steps}: seen by another, and two eyes differ"
        return f"{steps}: may be the eye alone"


def meanings() -> list[tuple[int, str, str]]:
    """Return (condition, its word, what it means), best first."""
    return [(condition, condition.label, MEANINGS[condition]) for condition in Condition]


def change_between(earlier: int | None, later: int | None) -> Change | None:
    """Return the Change between two conditions, or None when one is not known."""
    if earlier is None or later is None:
        return None
    return Change(int(later) - int(earlier))


def with_changes(notes: list[HealthNote]) -> list[HealthNote]:
    """Set `change` on each of a coral's notes, newest first: against the last condition before."""
    before: HealthNote | None = None
    for note in reversed(notes):
        change = change_between(before.condition if before else None, note.condition)
        other_eyes = before is not None and before.eyes != note.eyes
        note.change = replace(change, other_eyes=other_eyes) if change else None
        before = note if note.condition else before
    return notes


def looks_well(note: HealthNote) -> bool:
    """Tell whether a note has nothing to worry about."""
    is_well = note.condition is None or note.condition >= WELL_FROM
    return is_well and set(note.signs) <= GOOD_SIGNS


def is_little_off(note: HealthNote) -> bool:
    """Tell whether a coral is only a little off, and nothing but growth or colour gain is seen."""
    mending = {HealthNote.Seen.GROWTH, HealthNote.Seen.COLOUR_GAIN}
    return note.condition == Condition.OFF and set(note.signs) <= mending


def looks_unwell(note: HealthNote) -> bool:
    """Tell whether a coral is in trouble by a note: more than a little off."""
    return not (looks_well(note) or is_little_off(note))


def strength_of(condition: int | None) -> str:
    """Return how strong a sign is when only the condition was said."""
    if condition is None or condition == Condition.POOR:
        return HealthNote.Strength.CLEAR
    return HealthNote.Strength.SLIGHT if condition > Condition.POOR else HealthNote.Strength.STRONG
