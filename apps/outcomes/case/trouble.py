"""From a coral's notes to what troubles it: the notes that say it is unwell, one after another."""

import datetime as dt
from dataclasses import dataclass

from apps.corals.condition import looks_unwell
from apps.corals.models import Coral, HealthNote
from apps.outcomes.association.events import EPISODE_DAYS
from apps.outcomes.case.case_facts import Sign

Seen = HealthNote.Seen
# The most urgent first.
SIGNS = (
    (Sign.TISSUE_LOSS, (Seen.TISSUE_LOSS,)),
    (Sign.LIGHTER, (Seen.BLEACHING, Seen.PALING)),
    (Sign.DARKER, (Seen.BROWNING,)),
)


@dataclass(frozen=True)
class Trouble:
    """The last run of notes of a coral that say it is unwell, oldest first."""

    notes: tuple[HealthNote, ...]
    well_on: dt.date | None  # the first note after it that says it is better
    other_eyes: bool = False  # seen first by another than who noted it before

    @property
    def first_on(self) -> dt.date:
        return self.notes[0].noted_on

    @property
    def last_on(self) -> dt.date:
        return self.notes[-1].noted_on

    @property
    def sign(self) -> Sign:
        """What is seen: tissue loss in any of the notes, else what the newest note shows."""
        if any(note.shows((Seen.TISSUE_LOSS,)) for note in self.notes):
            return Sign.TISSUE_LOSS
        newest = self.notes[-1]
        return next((sign for sign, kinds in SIGNS if newest.shows(kinds)), Sign.UNWELL)

    @property
    def seen(self) -> str:
        """What is seen, in a word or two: "paling"."""
        if self.sign is Sign.TISSUE_LOSS:
            return str(Seen(Seen.TISSUE_LOSS).label)
        newest = self.notes[-1]
        kinds = dict(SIGNS).get(self.sign, newest.signs)
        main = next(sign for sign in newest.signs if sign in kinds)
        if main in (Seen.WELL, Seen.OTHER, Seen.GROWTH, Seen.COLOUR_GAIN):
            return f"“{newest.get_condition_display()}”" if newest.condition else "trouble"
        return str(Seen(main).label).partition(":")[0]

    @property
    def is_slight(self) -> bool:
        newest = self.notes[-1]
        return newest.strength == HealthNote.Strength.SLIGHT and not newest.shows((Seen.BLEACHING,))


def trouble_of(coral: Coral) -> Trouble | None:
    """Return the last Trouble of a coral, or None; reads its prefetched notes, oldest first.

    Notes go on with each other while none says that it is better and no more than EPISODE_DAYS
    lie between.
    """
    notes = sorted(coral.notes.all(), key=lambda note: (note.noted_on, note.pk))
    unwell = [k for k, note in enumerate(notes) if looks_unwell(note)]
    if not unwell:
        return None
    last = first = unwell[-1]
    while first - 1 in unwell and gap_days(notes[first - 1], notes[first]) <= EPISODE_DAYS:
        first -= 1
    before, after = notes[:first], notes[last + 1 :]
    return Trouble(
        notes=tuple(notes[first : last + 1]),
        well_on=after[0].noted_on if after else None,
        other_eyes=bool(before) and before[-1].eyes != notes[first].eyes,
    )


def gap_days(earlier: HealthNote, later: HealthNote) -> int:
    return int((later.noted_on - earlier.noted_on).days)
