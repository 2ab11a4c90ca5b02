"""What of corals and the water can be deleted and restored."""

from django.urls import reverse
from django.utils import timezone

from apps.corals.access import writable_photo
from apps.corals.models import (
    Coral,
    CoralSize,
    HealthNote,
    HistoryImport,
    PhotoColour,
    Spot,
    WaterEvent,
)
from apps.tanks.removable_kinds import RemovableKind


def event_words(event: WaterEvent) -> str:
    day = timezone.localdate(event.happened_at, timezone=event.tank.zone)
    return f"{event.in_words()}, {day:%-d %b %Y}"


def colour_words(colour: PhotoColour) -> str:
    note = colour.photo.note
    return f"{note.coral.name}: colour in the photo of {note.noted_on:%-d %b %Y}"


def import_words(row: HistoryImport) -> str:
    return f"import of {row.day_words()}: {row.in_words()}"


def coral_page(row) -> str:
    return reverse("coral_detail", args=[row.coral_id])


def photo_page(user, key) -> str:
    return reverse("photo_detail", args=[writable_photo(user, key).key])


CORAL = RemovableKind(
    key="coral",
    model=Coral,
    noun="coral",
    plural="corals",
    tank="tank",
    words=lambda coral: coral.name,
    page=lambda coral: reverse("coral_detail", args=[coral.pk]),
    at="corals/<int:pk>/",
    name="coral",
    remark="Its notes went with it.",
    left=lambda coral: reverse("coral_list", args=[coral.tank_id]),
)
SPOT = RemovableKind(
    key="spot",
    model=Spot,
    noun="spot",
    plural="spots",
    tank="coral__tank",
    within=("coral",),
    words=lambda spot: f"{spot.coral.name}: spot from {spot.since:%-d %b %Y}",
    page=coral_page,
    at="spots/<int:pk>/",
    name="spot",
    called=lambda spot: f"the spot from {spot.since:%-d %b %Y}",
)
NOTE = RemovableKind(
    key="note",
    model=HealthNote,
    noun="note",
    plural="notes",
    tank="coral__tank",
    within=("coral",),
    parts=(("photos", "photo", "photos"),),
    words=lambda note: f"{note.coral.name}: {note.in_words()}, {note.noted_on:%-d %b %Y}",
    page=coral_page,
    at="notes/<int:pk>/",
    name="note",
    called=lambda note: f"the note “{note.in_words()}” of {note.noted_on:%-d %b %Y}",
)
SIZE = RemovableKind(
    key="size",
    model=CoralSize,
    noun="size",
    plural="sizes",
    tank="coral__tank",
    within=("coral",),
    words=lambda size: f"{size.coral.name}: size of {size.measured_on:%-d %b %Y}",
    page=coral_page,
    at="sizes/<int:pk>/",
    name="size",
    called=lambda size: f"the size of {size.measured_on:%-d %b %Y}",
)
PHOTO_COLOUR = RemovableKind(
    key="photo-colour",
    model=PhotoColour,
    noun="photo’s colour",
    plural="colours in photos",
    tank="photo__note__coral__tank",
    within=("photo__note", "photo__note__coral"),
    words=colour_words,
    page=lambda colour: reverse("photo_detail", args=[colour.photo.key]),
    at="photos/<uuid:key>/colour/",
    name="colour",
    lookups={"key": "photo__key"},
    called=lambda colour: "the photo’s colour",
    absent=photo_page,
)
WATER_EVENT = RemovableKind(
    key="water-event",
    model=WaterEvent,
    noun="entry in the water log",
    plural="entries in the water log",
    tank="tank",
    words=event_words,
    page=lambda event: reverse("water_event_list", args=[event.tank_id]),
    at="water/<int:pk>/",
    name="water_event",
    called=lambda event: f"“{event.in_words()}”",
)
HISTORY_IMPORT = RemovableKind(
    key="history-import",
    model=HistoryImport,
    noun="import of history",
    plural="imports of history",
    tank="tank",
    words=import_words,
    page=lambda row: reverse("history_import", args=[row.tank_id]),
    at="history/<int:pk>/",
    name="history_import",
    called=lambda row: f"the import of {row.day_words()} with all it added that is still there",
    remark="Corals that were used since stay.",
)
KINDS = (
    CORAL,
    SPOT,
    NOTE,
    SIZE,
    PHOTO_COLOUR,
    WATER_EVENT,
    HISTORY_IMPORT,
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
