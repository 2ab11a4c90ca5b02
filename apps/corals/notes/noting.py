"""Saving a health note together with its photos, so that no one's words are lost under another's.

Whoever changes a note had one version of it before their eyes. A change that knew of all that
was saved before takes its place. Where two wrote without knowing of each other, what a page
saved stands over what a device brings later, the later of two pages stands, and the other text
is kept beside the note as an OtherVersion. No clock has a say.
"""

from django.db import transaction
from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.common.serving.row_locks import hold_row
from apps.corals.models import HealthNote, OtherVersion, Photo
from apps.corals.photo_files import keep_files, write_file

# What the note carries that others may have moved on since it was read.
MOVED_ON = ("version", "desk_version", "edition", "sent_photos", "removed_at")


@transaction.atomic
def save_note(*, note, photos=(), photos_gone=(), knows=None):
    """Save a note from a page, and return the OtherVersion of what it replaced unseen, or None.

    Adds `photos`, as `stored_photo` made them, and deletes for good the Photos in `photos_gone`.
    `knows` is the version that the page showed; None stands for all that was saved before. Raises
    Http404 where the note is gone: it is not made anew.
    """
    other = None
    if note.pk:
        held = hold_row(HealthNote.objects, note.pk)
        for name in MOVED_ON:
            setattr(note, name, getattr(held, name))
        is_changed = held.said() != note.said()
        if is_changed and knows is not None and held.version > knows:
            other = keep_beside(held, source=OtherVersion.Source.PAGE)
        if is_changed:
            note.version = note.desk_version = held.version + 1
    note.save()
    for photo in photos:
        add_photo(note, photo)
    for gone in photos_gone:
        gone.delete()
    return other


def keep_beside(note, *, source, **more):
    """Keep what a note says now as an OtherVersion, and return it."""
    return OtherVersion.objects.create(note=note, said=note.said(), source=source, **more)


@transaction.atomic
def use_other(*, other, knows):
    """Let an OtherVersion stand and return its note; what stood is kept in its place.

    Nothing happens, and None is returned, where the note was saved since version `knows`: a
    second tap does not swap them back. Raises ValidationError when it no longer fits the tank,
    and Http404 where the note or the version is gone: a device may have put another in its place.
    """
    note = hold_row(HealthNote.objects, other.note_id)
    other = get_object_or_404(note.others, pk=other.pk)
    if note.version != knows:
        return None
    before = note.said()
    note.say(other.said)
    note.full_clean(exclude=["coral"], validate_unique=False)
    note.version = note.desk_version = note.version + 1
    note.save()
    other.said, other.source, other.edition = before, OtherVersion.Source.STOOD, None
    other.settled_at = timezone.now()
    other.save()
    return note


def open_others():
    """Return the prefetch that gives each note its `open_others`, which ask for a choice."""
    others = OtherVersion.objects.open().select_related("note", "sent_by")
    return Prefetch("others", queryset=others, to_attr="open_others")


def settle_other(*, other):
    """Let the note stand as it is; the OtherVersion stays on the note's own page."""
    # A device may put its next text in this one's place at the same moment.
    OtherVersion.objects.filter(pk=other.pk).update(settled_at=timezone.now())


def stored_photo(photo, key=None):
    """Return the Photo of a CleanPhoto, its files written and no note its own, for `add_photo`.

    Best before a transaction begins: a disk or a bucket takes its time. Of one that no note takes
    the files go again. A device that sends a photo names it by `key`, so that it is known when it
    comes again.
    """
    row = Photo(**({"key": key} if key else {}))
    row.width_px, row.height_px = photo.width_px, photo.height_px
    row.camera_mark = photo.camera_mark
    write_file(row.image, "photo.jpg", photo.image)
    write_file(row.thumbnail, "small.jpg", photo.thumbnail)
    return row


def add_photo(note, photo):
    """Add a Photo, as `stored_photo` made it, to a saved note, and return it."""
    photo.note = note
    photo.save(force_insert=True)
    keep_files(photo.image, photo.thumbnail)
    return photo
