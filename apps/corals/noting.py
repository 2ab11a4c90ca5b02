"""Saving a health note together with its photo."""

from django.core.files.base import ContentFile
from django.db import transaction

from apps.corals.models import Photo


@transaction.atomic
def save_note(*, note, photo=None, photo_key=None, photos_gone=()):
    """Save a note; add `photo`, a CleanPhoto, and delete for good the Photos in `photos_gone`.

    A device that sends a photo names it by `photo_key`, so that it is known when it comes again.
    """
    note.save()
    if photo is not None:
        row = Photo(note=note, **({"key": photo_key} if photo_key else {}))
        row.width_px, row.height_px = photo.width_px, photo.height_px
        row.image.save("photo.jpg", ContentFile(photo.image), save=False)
        row.thumbnail.save("small.jpg", ContentFile(photo.thumbnail), save=False)
        row.save()
    for gone in photos_gone:
        delete_photo(gone)
    return note


def delete_photo(photo):
    """Delete a photo: its row now, its files once the row is surely gone."""
    files = [photo.image, photo.thumbnail]
    photo.delete()

    def delete_files():
        for file in files:
            file.storage.delete(file.name)

    transaction.on_commit(delete_files)
