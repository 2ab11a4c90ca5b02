"""The gallery: photos of all corals by week, what their notes say changed, and any two dates."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from apps.corals.condition import looks_unwell, looks_well
from apps.corals.models import Coral, HealthNote, Photo
from apps.tanks.models import Tank

WEEKS_SHOWN = 8
WEEK = dt.timedelta(days=7)
# A note older than this says how a coral was, not how it is [d]. Our own choice, as for events.
FRESH_DAYS = 30
BY_WORRY, BY_NAME = "worry", "name"

Seen = HealthNote.Seen
# How grave a sign is; those not named are 1, and a coral that looks well is 0. Our own choice.
GRAVITY = {Seen.PALING: 2, Seen.BROWNING: 2, Seen.BLEACHING: 3, Seen.TISSUE_LOSS: 4}
WORSE, BETTER, OTHER = "worse", "better", "other"


@dataclass(frozen=True)
class PhotoShown:
    key: UUID
    on: dt.date


@dataclass(frozen=True)
class SignChange:
    """What a note says that the one before did not: worse, better or other, in a word."""

    way: str
    words: str
    on: dt.date


@dataclass(frozen=True)
class Cell:
    """One coral's week: its newest photo, how many more there are, and what changed."""

    monday: dt.date
    photo: PhotoShown | None
    more: int
    changes: tuple[SignChange, ...]


@dataclass(frozen=True)
class GalleryRow:
    coral: Coral
    latest: HealthNote | None
    photo_count: int  # of all its weeks
    cells: tuple[Cell, ...]

    @property
    def is_empty(self) -> bool:
        """Whether the weeks shown have neither a photo nor a change."""
        return not any(cell.photo or cell.changes for cell in self.cells)

    @property
    def is_unwell(self) -> bool:
        return self.latest is not None and looks_unwell(self.latest)


@dataclass(frozen=True)
class Gallery:
    """A tank's corals by week, newest week first, and the weeks before and after."""

    mondays: tuple[dt.date, ...]
    rows: tuple[GalleryRow, ...]
    earlier: dt.date | None  # a day of the weeks before, where there are photos or notes
    later: dt.date | None

    @property
    def filled(self) -> tuple[GalleryRow, ...]:
        """The rows with something to see in these weeks."""
        return tuple(row for row in self.rows if not row.is_empty)

    @property
    def empty(self) -> tuple[GalleryRow, ...]:
        """The rows of the other corals."""
        return tuple(row for row in self.rows if row.is_empty)

    @property
    def with_photo(self) -> int:
        """How many of the corals have a photo at all."""
        return sum(row.photo_count > 0 for row in self.rows)


@dataclass(frozen=True)
class Pair:
    """A coral's photos nearest to two dates."""

    coral: Coral
    before: PhotoShown
    after: PhotoShown

    @property
    def is_one(self) -> bool:
        return self.before.key == self.after.key


def monday_of(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=day.weekday())


def living(tank: Tank) -> list[Coral]:
    return list(tank.corals.present().living())


def notes_by_coral(corals: Sequence[Coral]) -> dict[int, list[HealthNote]]:
    """Return the present notes of corals, oldest first, by the coral's key; one query."""
    notes = HealthNote.objects.present().filter(coral__in=corals).order_by("noted_on", "pk")
    result: dict[int, list[HealthNote]] = {coral.pk: [] for coral in corals}
    for note in notes.defer("text"):
        result[note.coral_id].append(note)
    return result


def photos_by_coral(corals: Sequence[Coral]) -> dict[int, list[PhotoShown]]:
    """Return the photos of corals, oldest first, by the coral's key; one query."""
    photos = Photo.objects.filter(note__coral__in=corals, note__removed_at__isnull=True)
    rows = photos.order_by("note__noted_on", "pk")
    result: dict[int, list[PhotoShown]] = {coral.pk: [] for coral in corals}
    for coral, key, on in rows.values_list("note__coral", "key", "note__noted_on"):
        result[coral].append(PhotoShown(key, on))
    return result


def gallery(tank: Tank, *, until: dt.date | None, by: str) -> Gallery:
    """Return the Gallery of WEEKS_SHOWN weeks up to that of `until`; three queries.

    Without a date it ends with the newest photo or change, so that it is never empty for nothing.
    """
    corals = living(tank)
    notes, photos = notes_by_coral(corals), photos_by_coral(corals)
    changes = {pk: sign_changes(of_coral) for pk, of_coral in notes.items()}
    days = [photo.on for some in photos.values() for photo in some]
    days += [change.on for some in changes.values() for change in some]
    last = monday_of(until or max(days, default=tank.today()))
    mondays = tuple(last - k * WEEK for k in range(WEEKS_SHOWN))
    rows = [
        GalleryRow(
            coral,
            notes[coral.pk][-1] if notes[coral.pk] else None,
            len(photos[coral.pk]),
            cells_of(mondays, photos[coral.pk], changes[coral.pk]),
        )
        for coral in corals
    ]
    if by == BY_WORRY:
        rows.sort(key=lambda row: worry(row, tank.today()))
    return Gallery(
        mondays=mondays,
        rows=tuple(rows),
        earlier=mondays[-1] - WEEK if any(day < mondays[-1] for day in days) else None,
        later=last + WEEKS_SHOWN * WEEK if any(day >= last + WEEK for day in days) else None,
    )


def cells_of(
    mondays: Iterable[dt.date], photos: Sequence[PhotoShown], changes: Sequence[SignChange]
) -> tuple[Cell, ...]:
    """Return the Cell of each week."""
    cells = []
    for monday in mondays:
        shown = [photo for photo in photos if monday <= photo.on < monday + WEEK]
        changed = tuple(change for change in changes if monday <= change.on < monday + WEEK)
        cells.append(Cell(monday, shown[-1] if shown else None, max(len(shown) - 1, 0), changed))
    return tuple(cells)


def sign_changes(notes: Sequence[HealthNote]) -> list[SignChange]:
    """Return the SignChanges of a coral's notes, oldest first. A first note that it looks well
    changes nothing."""
    result = []
    before: tuple[int, str] = (0, "")
    for note in notes:
        now = gravity(note), sign_of(note)
        if now[0] != before[0] or (now[0] and now[1] != before[1]):
            way = WORSE if now[0] > before[0] else BETTER if now[0] < before[0] else OTHER
            result.append(SignChange(way, now[1], note.noted_on))
        before = now
    return result


def gravity(note: HealthNote) -> int:
    """Return how grave what a note says is; 0 where it looks well."""
    return 0 if looks_well(note) else max(GRAVITY.get(Seen(sign), 1) for sign in note.signs)


def sign_of(note: HealthNote) -> str:
    """Return the gravest sign of a note in a word or two: "paling", "looks well"."""
    if looks_well(note):
        return str(Seen.WELL.label)
    gravest = max(note.signs, key=lambda sign: GRAVITY.get(Seen(sign), 1))
    if gravest in (Seen.WELL, Seen.GROWTH, Seen.COLOUR_GAIN) and note.condition:
        return str(note.get_condition_display())
    return str(Seen(gravest).label).partition(":")[0]


def worry(row: GalleryRow, today: dt.date) -> tuple[object, ...]:
    """Sort the most unhappy first: lately unwell, then long ago, then well, then never noted."""
    note = row.latest
    if note is None:
        return (3, row.coral.name)
    age = (today - note.noted_on).days
    if not row.is_unwell:
        return (2, row.coral.name)
    condition = note.condition if note.condition else 6 - note.strength
    return (age > FRESH_DAYS, -gravity(note), condition, age, row.coral.name)


def pairs(tank: Tank, first: dt.date, second: dt.date) -> list[Pair]:
    """Return the Pair of each living coral that has a photo, by name; two queries."""
    corals = living(tank)
    photos = photos_by_coral(corals)
    return [
        Pair(coral, nearest(photos[coral.pk], first), nearest(photos[coral.pk], second))
        for coral in corals
        if photos[coral.pk]
    ]


def nearest(photos: Sequence[PhotoShown], day: dt.date) -> PhotoShown:
    """Return the photo nearest in time to a day; of two as near, the newer."""
    return min(reversed(photos), key=lambda photo: abs(photo.on - day))
