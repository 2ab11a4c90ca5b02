"""Taking in the notes of a round that a device kept: each once, none lost.

A note carries its device's own mark, and the device numbers its changes of it: `edition`. One
that was taken in before is accepted and changes nothing. With a change comes `knows`, the version
of the note that the device had last heard of; what a page saved after that stands, and the
device's text is kept beside it (`noting.py`).
"""

import copy
import datetime as dt
import uuid
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from apps.common.devices.edits import (
    Taken,
    UnreadableEdits,
    read_batch,
    read_count,
    read_id,
    read_list,
    read_text,
)
from apps.corals.condition import strength_of
from apps.corals.models import (
    NOTE_PHOTOS_MAX,
    TOO_MANY_PHOTOS,
    Coral,
    HealthNote,
    OtherVersion,
    Photo,
)
from apps.corals.notes.noting import add_photo, keep_beside, stored_photo
from apps.corals.notes.quota import photo_quota_problem
from apps.corals.photo_cleaning import UnusablePhoto, clean_photo
from apps.tanks.access import hold_tank

NOTES_A_BATCH = 100
# What a column of whole numbers holds.
COUNT_MAX = 2**31 - 1
ID_AND_DAY = "A note has an id and a day."
BESIDE = (
    "Meanwhile a page was saved, and that stands: “{}”. What you entered here is kept beside it "
    "on the coral’s page, where you can choose."
)
CHANGED_SINCE = "Changed on a page since: “{}”."
TAKEN_AWAY = "Taken away on a page since."
BROUGHT_BACK = "It had been taken away on a page; with what you entered here it is back."


@dataclass(frozen=True)
class SentNote:
    """One note as a device sent it; `photo_key` names the picture that came with it."""

    client_id: uuid.UUID
    edition: int
    knows: int
    coral_pk: int
    noted_on: dt.date
    noted_time: dt.time | None
    noted_by: str
    condition: int | None
    seen: str
    also_seen: list
    where: str
    text: str
    # None where the device did not ask.
    strength: int | None
    photo_key: uuid.UUID | None


@dataclass
class TakenNotes(Taken):
    """What became of the notes of a round.

    `standing` is {mark: what the note says now}, and `notices` {mark: what the keeper must know}.
    """

    standing: dict = field(default_factory=dict)
    notices: dict = field(default_factory=dict)


def read_notes(sent):
    """Return the SentNotes of a decoded JSON list, or raise UnreadableEdits."""
    batch = read_batch(sent, most=NOTES_A_BATCH, noun="notes", one="A note")
    return [_read_note(note) for note in batch]


def _read_note(note):
    named = "A note names its coral, condition and strength by number."
    numbered = "A note says which of its changes this is, and what it knows of."
    in_texts = "What is seen, where and in which words are texts."
    condition, photo, strength = (note.get(name) for name in ("condition", "photo", "strength"))
    return SentNote(
        coral_pk=_count(note.get("coral"), named),
        condition=None if condition is None else _count(condition, named),
        strength=None if strength is None else _count(strength, named),
        edition=_count(note.get("edition"), numbered),
        knows=_count(note.get("knows", 0), numbered),
        **{
            name: read_text(note.get(name) or "", problem=in_texts)
            for name in ("seen", "where", "text", "noted_by")
        },
        also_seen=_signs(note.get("also_seen")),
        client_id=read_id(note.get("id"), problem=ID_AND_DAY),
        noted_on=_day(note.get("noted_on")),
        noted_time=_time(note.get("noted_time")),
        photo_key=read_id(photo, problem=ID_AND_DAY) if photo else None,
    )


def _count(value, problem):
    return read_count(value, most=COUNT_MAX, problem=problem)


def _signs(value):
    problem = "What is also seen is a list of texts."
    signs = read_list(value, problem=problem)
    # Which words a sign may have is the model's to say.
    if not all(isinstance(sign, str) for sign in signs):
        raise UnreadableEdits(problem)
    return signs


def _day(value):
    try:
        return dt.date.fromisoformat(value)
    except (ValueError, TypeError):
        raise UnreadableEdits(ID_AND_DAY) from None


def _time(value):
    """Return the time of day a device sent, None where it sent none."""
    if not value:
        return None
    try:
        return dt.time.fromisoformat(value)
    except (ValueError, TypeError):
        raise UnreadableEdits("At what time is a text such as 18:30.") from None


def notes_by_mark(marks):
    """Return the stored notes of the devices' marks, locked in the order of their keys."""
    stored = HealthNote.objects.select_for_update(of=("self",), no_key=True).select_related("coral")
    return stored.filter(client_id__in=marks).order_by("pk")


def take_notes(*, tank, notes, photos, by, photo_bytes_max):
    """Save SentNotes of one tank and return the TakenNotes; `photos` is {key: uploaded file}."""
    # Decoded and stored before any row is held: nobody's save waits for that.
    made = _made_photos(tank, notes, photos, photo_bytes_max)
    return _take_all(tank, notes, made, by)


def _made_photos(tank, notes, photos, photo_bytes_max):
    """Return {key: a stored Photo, or the ValidationError of one that can't be kept}.

    Left out are those that are stored already, or that no note names.
    """
    files = {sent.photo_key: photos.get(str(sent.photo_key)) for sent in notes if sent.photo_key}
    stored = set(Photo.objects.filter(key__in=files).values_list("key", flat=True))
    marks = [sent.client_id for sent in notes]
    for keys in HealthNote.objects.filter(client_id__in=marks).values_list(
        "sent_photos", flat=True
    ):
        stored |= {uuid.UUID(key) for key in keys}
    return {
        key: _made(tank, file, key, photo_bytes_max)
        for key, file in files.items()
        if file is not None and key not in stored
    }


def _made(tank, file, key, photo_bytes_max):
    """Return the stored Photo of a file, or the ValidationError that says why there is none."""
    if problem := photo_quota_problem(tank, 1):
        return ValidationError(f"Its photo: {problem}")
    try:
        return stored_photo(clean_photo(file, bytes_max=photo_bytes_max), key)
    except UnusablePhoto as problem:
        return ValidationError(f"Its photo: {problem}")


@transaction.atomic
def _take_all(tank, notes, photos, by):
    """Save SentNotes and return the TakenNotes; `photos` are those of `_made_photos`."""
    # Two tabs that send the same note wait for each other: the second finds it there.
    hold_tank(tank.pk)
    corals = {c.pk: c for c in Coral.objects.present().filter(tank=tank)}
    marks = [sent.client_id for sent in notes]
    known = {note.client_id: note for note in notes_by_mark(marks)}
    taken = TakenNotes()
    for sent in notes:
        note = known.get(sent.client_id)
        try:
            note, words = _take(sent, tank, corals, note, photos, by)
        except ValidationError as problem:
            taken.refused[sent.client_id] = " ".join(problem.messages)
            continue
        known[sent.client_id] = note
        taken.accepted.append(sent.client_id)
        taken.standing[sent.client_id] = state_of(note)
        if words:
            taken.notices[sent.client_id] = words
    return taken


def _take(sent, tank, corals, note, photos, by):
    """Save one note and return it with what the keeper must know; ValidationError stops it."""
    coral = corals.get(sent.coral_pk)
    is_of_coral = note is None or (note.coral_id, note.coral.tank_id) == (sent.coral_pk, tank.pk)
    # Asked before the coral: what is stored is stored, even if the coral is gone by now.
    if note and is_of_coral and sent.edition <= note.edition:
        if note.removed_at is None:
            # One photo travels at a time: the others of a note come with the same change.
            _add_sent_photo(note, sent, _picture(note, sent, photos))
        return note, _words_of_replay(note, sent, tank)
    if coral is None or not is_of_coral:
        raise ValidationError("This coral is no longer in this tank.")
    before = note
    note = copy.copy(note) if note else HealthNote(client_id=sent.client_id, created_by=by)
    coral.tank = tank
    note.coral = coral
    _say(note, sent, tank)
    note.full_clean(exclude=["coral", "created_by"], validate_unique=False)
    picture = _picture(note, sent, photos)
    note, words = _stand(note, before, sent, by)
    _add_sent_photo(note, sent, picture)
    return note, words


def _add_sent_photo(note, sent, picture):
    """Add the Photo that came with a note, if any, and remember its key."""
    if picture is not None:
        add_photo(note, picture)
        note.sent_photos = [*note.sent_photos, str(sent.photo_key)]
        note.save(update_fields=["sent_photos"])


def _say(note, sent, tank):
    """Let a note say what a device sent."""
    # A round asks for no strength: one that was said elsewhere goes with its condition.
    if sent.strength is not None:
        note.strength = sent.strength
    elif note.pk is None or note.condition != sent.condition:
        note.strength = strength_of(sent.condition)
    # A device whose clock runs ahead means today.
    note.noted_on = min(sent.noted_on, tank.today())
    note.noted_time, note.noted_by = sent.noted_time, sent.noted_by
    if note.noted_time and note.is_ahead():
        note.noted_time = None
    note.condition, note.where, note.text = sent.condition, sent.where, sent.text
    note.seen, note.also_seen = sent.seen or HealthNote.Seen.WELL, sent.also_seen


def _stand(note, before, sent, by):
    """Save a device's change, or keep it beside what a page saved unseen; return (note, words)."""
    words = ""
    # What stands was saved on a page after all that the device knew of. What the device itself
    # let stand it knows, even if it never heard that it did.
    is_pages = before is not None and before.desk_version == before.version
    is_unseen = is_pages and before.version > sent.knows
    is_other = is_unseen and before.said() != note.said()
    if is_other and before.removed_at is None:
        _keep_one_beside(note, edition=sent.edition, sent_by=by)
        before.edition = sent.edition
        before.save(update_fields=["edition"])
        return before, BESIDE.format(before.in_words())
    if is_other:
        keep_beside(before, source=OtherVersion.Source.STOOD, settled_at=timezone.now())
    if before is not None and before.removed_at is not None:
        note.removed_at, words = None, BROUGHT_BACK
    note.version += 1
    note.edition = sent.edition
    note.save()
    return note, words


def _keep_one_beside(note, *, edition, sent_by):
    """Keep a device's text beside the note, in place of an earlier one it changed itself."""
    source = OtherVersion.Source.ROUND
    note.others.open().filter(source=source).delete()
    keep_beside(note, source=source, edition=edition, sent_by=sent_by)


def _words_of_replay(note, sent, tank):
    """Return what became of a change that was taken in before, where it does not stand."""
    if note.removed_at is not None:
        return TAKEN_AWAY
    mine = copy.copy(note)
    _say(mine, sent, tank)
    is_latest = sent.edition == note.edition
    if not is_latest or not note.desk_version or mine.said() == note.said():
        return ""
    is_beside = note.others.open().filter(edition=sent.edition).exists()
    return (BESIDE if is_beside else CHANGED_SINCE).format(note.in_words())


def state_of(note):
    """Return what stands of a note, as a device needs to know it: plain values for JSON."""
    return {
        "knows": note.version,
        "removed": note.removed_at is not None,
        "noted_on": note.noted_on.isoformat(),
        "noted_time": note.said()["noted_time"] or "",
        "noted_by": note.noted_by,
        "condition": note.condition,
        "seen": note.seen,
        "also_seen": note.also_seen,
        "where": note.where,
        "text": note.text,
    }


def states_of_late(tank):
    """Return {mark: state} of the notes that devices made in a tank in the last two days."""
    since = timezone.now() - dt.timedelta(days=2)
    notes = HealthNote.objects.filter(
        coral__tank=tank, client_id__isnull=False, created_at__gte=since
    )
    return {str(note.client_id): state_of(note) for note in notes}


def _picture(note, sent, photos):
    """Return the Photo that came with a note, or None; each comes only once."""
    picture = photos.get(sent.photo_key)
    if picture is None or str(sent.photo_key) in note.sent_photos:
        return None
    if Photo.objects.filter(key=sent.photo_key).exists():
        return None
    if note.pk and note.photos.count() >= NOTE_PHOTOS_MAX:
        raise ValidationError(TOO_MANY_PHOTOS)
    # Counted anew: others may have come meanwhile, and with this one.
    if problem := photo_quota_problem(note.coral.tank, 1):
        raise ValidationError(f"Its photo: {problem}")
    if isinstance(picture, ValidationError):
        raise picture
    return picture
