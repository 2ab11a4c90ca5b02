"""Taking in the notes of a round that a device kept: each once, none lost.

A note carries its device's own mark, so sending it again changes nothing, and sending it anew
with other words changes that one note.
"""

import datetime as dt
import uuid
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.db import transaction

from apps.corals.condition import strength_of
from apps.corals.models import Coral, HealthNote, Photo
from apps.corals.noting import save_note
from apps.corals.photos import UnusablePhoto, clean_photo
from apps.tanks.models import Tank

NOTES_A_BATCH = 100


class UnreadableNotes(ValueError):
    """What was sent is no list of notes; the message says why."""


@dataclass(frozen=True)
class SentNote:
    """One note as a device sent it; `photo_key` names the picture that came with it."""

    client_id: uuid.UUID
    coral_pk: int
    noted_on: dt.date
    condition: int | None
    seen: str
    also_seen: list
    where: str
    text: str
    photo_key: uuid.UUID | None


@dataclass
class Taken:
    """What became of the notes: marks that need not be sent again, and {mark: why not}."""

    accepted: list = field(default_factory=list)
    refused: dict = field(default_factory=dict)


def read_notes(sent):
    """Return the SentNotes of a decoded JSON list, or raise UnreadableNotes."""
    if not isinstance(sent, list) or len(sent) > NOTES_A_BATCH:
        raise UnreadableNotes(f"Send a list of at most {NOTES_A_BATCH} notes.")
    return [_read_note(note) for note in sent]


def _read_note(note):
    if not isinstance(note, dict):
        raise UnreadableNotes("A note is an object.")
    pk, condition = note.get("coral"), note.get("condition")
    if not _is_count(pk) or not (condition is None or _is_count(condition)):
        raise UnreadableNotes("A note names its coral and condition by number.")
    texts = {name: note.get(name) or "" for name in ("seen", "where", "text")}
    if not all(isinstance(text, str) and "\0" not in text for text in texts.values()):
        raise UnreadableNotes("What is seen, where and in which words are texts.")
    also = note.get("also_seen") or []
    if not isinstance(also, list) or not all(isinstance(sign, str) for sign in also):
        raise UnreadableNotes("What is also seen is a list of texts.")
    try:
        return SentNote(
            client_id=uuid.UUID(note.get("id")),
            coral_pk=pk,
            noted_on=dt.date.fromisoformat(note.get("noted_on")),
            condition=condition,
            also_seen=also,
            photo_key=uuid.UUID(note["photo"]) if note.get("photo") else None,
            **texts,
        )
    except (ValueError, TypeError, AttributeError):
        raise UnreadableNotes("A note has an id and a day.") from None


def _is_count(value):
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**31


@transaction.atomic
def take_notes(*, tank, notes, photos, by, photo_bytes_max):
    """Save SentNotes of one tank and return what was Taken; `photos` is {key: uploaded file}."""
    # Two tabs that send the same note wait for each other: the second finds it there.
    Tank.objects.select_for_update().get(pk=tank.pk)
    corals = {c.pk: c for c in Coral.objects.present().filter(tank=tank)}
    known = {
        n.client_id: n
        for n in HealthNote.objects.filter(client_id__in=[n.client_id for n in notes])
    }
    taken = Taken()
    for sent in notes:
        try:
            _take(sent, tank, corals, known, photos, by, photo_bytes_max)
        except ValidationError as problem:
            taken.refused[sent.client_id] = " ".join(problem.messages)
        else:
            taken.accepted.append(sent.client_id)
    return taken


def _take(sent, tank, corals, known, photos, by, photo_bytes_max):
    """Save one note, or raise ValidationError with what stops it."""
    coral = corals.get(sent.coral_pk)
    note = known.get(sent.client_id) or HealthNote(client_id=sent.client_id, created_by=by)
    if coral is None or (note.pk and note.coral_id != coral.pk):
        raise ValidationError("This coral is no longer in this tank.")
    coral.tank = tank
    note.coral = coral
    # A device whose clock runs ahead means today.
    note.noted_on = min(sent.noted_on, tank.today())
    note.condition, note.where, note.text = sent.condition, sent.where, sent.text
    note.seen, note.also_seen = sent.seen or HealthNote.Seen.WELL, sent.also_seen
    note.strength = strength_of(sent.condition)
    note.full_clean(exclude=["coral", "created_by"], validate_unique=False)
    save_note(
        note=note,
        photo=_picture(sent, photos, photo_bytes_max),
        photo_key=sent.photo_key,
    )
    known[sent.client_id] = note


def _picture(sent, photos, photo_bytes_max):
    """Return the CleanPhoto that came with a note, or None; one that is kept comes only once."""
    file = photos.get(str(sent.photo_key)) if sent.photo_key else None
    if file is None or Photo.objects.filter(key=sent.photo_key).exists():
        return None
    try:
        return clean_photo(file, bytes_max=photo_bytes_max)
    except UnusablePhoto as problem:
        raise ValidationError(f"Its photo: {problem}") from None
