"""Photos of the painted coral as notes carry them, and marks on them."""

import datetime as dt

from apps.corals.notes.noting import save_note, stored_photo
from apps.corals.photos.colouring import mark_photo
from reeflog.demo_photos import CARD_AT, CORAL_AT, Shot, demo_photo
from tests.factories import make_note

BROWN = (60.0, 5.0, 27.0)
PALE = (80.0, 1.0, 13.0)


def make_photo(coral, *, days_ago=0, lab=BROWN, **shot):
    """Make a note with one photo of the coral in a colour."""
    note = make_note(coral, noted_on=coral.tank.today() - dt.timedelta(days=days_ago), seen="well")
    save_note(note=note, photos=[stored_photo(demo_photo(Shot(lab=lab, **shot)))])
    return note.photos.get()


def mark(photo, **overrides):
    fields = {
        "reference": CARD_AT, "regions": [CORAL_AT], "reference_kind": "white", "light": "white",
    } | overrides  # fmt: skip
    return mark_photo(photo=photo, **fields)


def make_colour(coral, **kwargs):
    return mark(make_photo(coral, **kwargs))


TYPED = {
    "reference_kind": "white", "light": "white",
    "reference": "box 8 58, 24 82", "regions": "ellipse 45 38 71 74",
}  # fmt: skip
TYPED_SIZE = {
    "whole": "ellipse 34 36 82 84", "scale": "8 90, 28 90", "scale_cm": "4",
}  # fmt: skip
