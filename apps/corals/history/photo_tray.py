"""Many photos at once: each is made safe and waits until the keeper says whose it is."""

import dataclasses
import datetime as dt
import hashlib
from collections.abc import Iterator, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from apps.accounts.models import User
from apps.common.moments import day_text
from apps.corals.history.columns import plain_name
from apps.corals.history.known import fingerprint
from apps.corals.history.photo_dates import taken_on
from apps.corals.history.recording import source_words
from apps.corals.history_models import HistoryImport, SentPhoto
from apps.corals.models import Coral, HealthNote, Photo
from apps.corals.notes.noting import add_photo, save_note, stored_photo
from apps.corals.notes.quota import photo_quota_problem
from apps.corals.photo_cleaning import CleanPhoto, UnusablePhoto, clean_photo
from apps.corals.photo_files import keep_files, write_file
from apps.tanks.access import hold_tank
from apps.tanks.models import Tank

# Photos of one tank that wait at once: our own choice, some hundred megabytes at most.
WAITING_MAX = 200
# So long a photo waits for its coral [d], then it is deleted for good. Our own choice.
WAITING_DAYS = 90
PICTURES = ("image", "thumbnail")
ONLY_PHOTO = "Photo"
TOO_MANY = f"{WAITING_MAX} photos wait already. Say first whose those are."


class SentBefore(ValueError):
    """The same file came before; the message says what became of it."""


class StillWaiting(SentBefore):
    """It waits already: sent once more after a line was cut, it is where it should be."""


@dataclasses.dataclass(frozen=True)
class Match:
    """What a keeper says of a photo that waits: its coral, its day, what is seen, "" if unsaid."""

    sent: SentPhoto
    coral: Coral
    day: dt.date
    seen: str = ""


@dataclasses.dataclass(frozen=True)
class Stored:
    """How many photos were stored, how many of them joined a note that was there, and the rest."""

    count: int
    joined: int
    kept: HistoryImport | None  # the notes made for them, to be taken back as one


def waiting_photos(tank: Tank) -> Any:
    return tank.sent_photos.filter(photo=None)


def waits_until(sent: SentPhoto) -> dt.date:
    """Return the last day on which a photo waits, by its tank's clock."""
    last = sent.created_at + dt.timedelta(days=WAITING_DAYS)
    return last.astimezone(sent.tank.zone).date()


def purge_words(now: dt.datetime) -> Iterator[str]:
    """Delete for good, with their files, the photos that waited too long; yield a line on them."""
    sent = SentPhoto.objects.filter(photo=None)
    expired = list(sent.filter(created_at__lt=now - dt.timedelta(days=WAITING_DAYS)))
    for photo in expired:
        photo.delete()
    if expired:
        yield f"Photos deleted that waited for their coral: {len(expired)}."


def keep_waiting(*, tank: Tank, file: UploadedFile, by: User, bytes_max: int) -> SentPhoto:
    """Make a photo safe and let it wait for its coral; returns its SentPhoto.

    Raises UnusablePhoto with a sentence, SentBefore, and DecoderBusy as `clean_photo` does.
    """
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    _refuse_known(tank, digest.hexdigest())
    if waiting_photos(tank).count() >= WAITING_MAX:
        raise UnusablePhoto(TOO_MANY)
    if problem := photo_quota_problem(tank, 1):
        raise UnusablePhoto(problem)
    sent = SentPhoto(
        tank=tank,
        digest=digest.hexdigest(),
        name=source_words(str(file.name or "")),
        taken_on=taken_on(file, today=tank.today()),
        created_by=by,
    )
    # Before the database is asked to wait: a large picture takes a second, a store its time.
    clean = clean_photo(file, bytes_max=bytes_max)
    write_file(sent.image, "photo.jpg", clean.image)
    write_file(sent.thumbnail, "small.jpg", clean.thumbnail)
    _save_waiting(sent, clean)
    return sent


@transaction.atomic
def _save_waiting(sent: SentPhoto, clean: CleanPhoto) -> None:
    # Two at once wait for each other: the second is known.
    hold_tank(sent.tank_id)
    _refuse_known(sent.tank, sent.digest)
    sent.facts = {
        field.name: getattr(clean, field.name)
        for field in dataclasses.fields(clean)
        if field.name not in PICTURES
    }
    sent.full_clean(exclude=["tank", "created_by"])
    sent.save()
    keep_files(sent.image, sent.thumbnail)


def _refuse_known(tank: Tank, digest: str) -> None:
    """Raise SentBefore for a file that waits or is in a note; one of a deleted note comes anew."""
    before = tank.sent_photos.filter(digest=digest).select_related("photo__note__coral").first()
    if before is None:
        return
    if before.photo is None:
        raise StillWaiting("This photo waits already.")
    note = before.photo.note
    if note.removed_at is None and note.coral.removed_at is None:
        raise SentBefore(
            f"This photo is in the notes already: {note.coral}, {day_text(note.noted_on)}."
        )
    before.delete()


def likely_coral(sent: SentPhoto, corals: Sequence[Coral]) -> Coral | None:
    """Return the one coral whose name is in the file's name, the longest name first."""
    name = plain_name(sent.name.replace("_", "").replace("-", ""))
    named = [c for c in corals if plain_name(c.name).replace("-", "") in name]
    return max(named, key=lambda coral: len(coral.name), default=None)


def store_matched(*, tank: Tank, matches: Sequence[Match], by: User) -> Stored:
    """Store photos in notes: in one of that coral and day where there is one, else in a new one.

    Raises ValidationError where a note cannot be of that day.
    """
    # Written before any row is held: a store takes its time, and nobody's save waits for that.
    photos = [photo_of(match.sent) for match in matches]
    return _store_all(tank, matches, photos, by)


@transaction.atomic
def _store_all(tank: Tank, matches: Sequence[Match], photos: Sequence[Photo], by: User) -> Stored:
    """Store the Photos of Matches in notes; one whose photo waits no more is left out."""
    # Two taps at once wait for each other: the second finds them stored.
    hold_tank(tank.pk)
    waiting = set(waiting_photos(tank).values_list("pk", flat=True))
    made: dict[tuple[int, dt.date, str], HealthNote] = {}
    count = joined = 0
    for match, photo in zip(matches, photos, strict=True):
        if match.sent.pk not in waiting:
            continue
        key = (match.coral.pk, match.day, match.seen)
        note = made.get(key)
        if note is None and not match.seen:
            note = match.coral.notes.present().filter(noted_on=match.day).order_by("-pk").first()
            joined += note is not None
        if note is None:
            note = made[key] = sound_note(match)
            note.created_by = by
            save_note(note=note)
        move_into(note, match.sent, photo)
        count += 1
    notes = list(made.values())
    added = [["note", note.pk, fingerprint("note", note)] for note in notes]
    kept = None
    if added:
        kept = HistoryImport.objects.create(tank=tank, created_by=by, source="photos", added=added)
    return Stored(count, joined, kept)


def sound_note(match: Match) -> HealthNote:
    """Return the unsaved note of a photo, or raise ValidationError."""
    note = HealthNote(
        coral=match.coral,
        noted_on=match.day,
        seen=match.seen or HealthNote.Seen.OTHER,
        text="" if match.seen else ONLY_PHOTO,
    )
    note.full_clean(exclude=["coral", "created_by"], validate_constraints=False)
    return note


def photo_of(sent: SentPhoto) -> Photo:
    """Return the Photo of one that waited, its files written; raises ValidationError."""
    pictures = {}
    for name in PICTURES:
        try:
            with getattr(sent, name).open("rb") as file:
                pictures[name] = file.read()
        except FileNotFoundError:
            raise ValidationError(f"{sent.name} is gone from the store. Send it again.") from None
    return stored_photo(CleanPhoto(**sent.facts, **pictures))


def move_into(note: HealthNote, sent: SentPhoto, photo: Photo) -> None:
    """Make a photo that waited a note's Photo; its own files go with the transaction."""
    add_photo(note, photo)
    gone = [(getattr(sent, name).storage, getattr(sent, name).name) for name in PICTURES]
    transaction.on_commit(lambda: [storage.delete(path) for storage, path in gone])
    sent.photo, sent.image, sent.thumbnail = photo, "", ""
    sent.save()
