"""What happened to a coral and what was noted of it, as rows of marks on its time axis."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from apps.common.moments import day_text
from apps.corals.models import Coral, HealthNote
from apps.drawing.marks import Tick
from apps.drawing.time_axis import TimeAxis, midnight
from apps.lighting.change.factor import factor_words
from apps.lightmap.lightmap import TankLight

ROW_HEIGHT = 24
# Marks of a row; where there are more, those close to each other become one, so that each of
# them still has its own 10 pixels on a phone.
MARKS_MAX = 24
# Rows whose marks are drawn as lines through the plots above. A survey changes no light, and a
# water test a week would fence the plots in.
DRAWN_THROUGH = ("light", "move", "water")
# What stands on the axis: its moment, and its words.
Marked = tuple[dt.datetime, str]

# Marks are told apart by shape, centred on 0, 0 and about 12 pixels wide.
SHAPES = {
    "light": "M-3-6H3L7 4H-7Z",
    "survey": "M-6-7H6V-2H1V7H-1V-2H-6Z",
    "move": "M-6-4H0V-7L7 0L0 7V4H-6Z",
    "water": "M0-7C3-2 5 0 5 2A5 5 0 0 1-5 2C-5 0-3-2 0-7Z",
    "reading": "M-2-6H2V6H-2Z",
    HealthNote.Seen.WELL: "M-5 0A5 5 0 1 0 5 0A5 5 0 1 0-5 0Z",
    HealthNote.Seen.PALING: "M0-6L6 5H-6Z",
    HealthNote.Seen.BLEACHING: "M0-7L2-2L7-2L3 1L5 6L0 3L-5 6L-3 1L-7-2L-2-2Z",
    HealthNote.Seen.BROWNING: "M-5-5H5V5H-5Z",
    HealthNote.Seen.TISSUE_LOSS: "M-6-4L-4-6L0-2L4-6L6-4L2 0L6 4L4 6L0 2L-4 6L-6 4L-2 0Z",
    HealthNote.Seen.POLYPS_IN: "M-6 2A6 6 0 0 1 6 2Z",
    HealthNote.Seen.GROWTH: "M0-7L6 0H2V6H-2V0H-6Z",
    HealthNote.Seen.COLOUR_GAIN: "M-2-6H2V-2H6V2H2V6H-2V2H-6V-2H-2Z",
    HealthNote.Seen.OTHER: "M-6-2H6V2H-6Z",
}
# Short enough for the end of a row; the model's label where it is.
SIGN_LABELS = {
    HealthNote.Seen.WELL: "well",
    HealthNote.Seen.BLEACHING: "bleaching",
    HealthNote.Seen.OTHER: "other",
}


@dataclass(frozen=True)
class Entry(Tick):
    """A dated entry in its row, or several that crowd, at a percent of the width."""

    # Entries it stands for.
    count: int = 1


@dataclass(frozen=True)
class Row:
    """One kind of event under the light: its word, its shape, and when it was."""

    label: str
    shape: str
    kind: str
    marks: tuple[Entry, ...]
    top: int = 0  # pixels from the top of the rows

    @property
    def entries(self) -> int:
        """How many entries the marks stand for."""
        return sum(mark.count for mark in self.marks)

    @property
    def is_joined(self) -> bool:
        """Whether a mark stands for several entries."""
        return self.entries > len(self.marks)


@dataclass(frozen=True)
class Vertical:
    """An event drawn through the plots: where it is and of which kind."""

    at: float
    kind: str


def stacked(rows: Sequence[Row]) -> tuple[Row, ...]:
    """Return Rows one below the other."""
    return tuple(replace(row, top=k * ROW_HEIGHT) for k, row in enumerate(rows))


def verticals(rows: Iterable[Row]) -> tuple[Vertical, ...]:
    """Return what of rows of events is drawn through the plots."""
    shown = [row for row in rows if row.kind in DRAWN_THROUGH]
    return tuple(Vertical(mark.at, row.kind) for row in shown for mark in row.marks)


def event_rows(coral: Coral, light: TankLight, axis: TimeAxis) -> tuple[Row, ...]:
    """Return the rows of light changes, surveys, moves and water; none without an event."""
    zone = coral.tank.zone
    water = list(coral.tank.water_events.present().in_order())
    moves = sorted(spot.since for spot in coral.spots.all())
    by_kind = {
        ("lights", "light"): [
            (
                c.happened_at,
                c.summary if c.factor == 1 else f"{c.summary}: {factor_words(c.factor)}",
            )
            for c in light.history.changes
        ],
        ("survey", "survey"): [(m.taken_at, "survey of the tank") for m in light.maps],
        # The first spot is where it was placed, not a move.
        ("moved", "move"): [(midnight(day, zone), "moved") for day in moves[1:]],
        ("water harm", "water"): [
            (event.happened_at, event.in_words()) for event in water if event.could_hurt
        ],
        ("water log", "reading"): [
            (event.happened_at, event.in_words()) for event in water if not event.could_hurt
        ],
    }
    rows = []
    for (label, kind), events in by_kind.items():
        if marks := marks_of(events, axis, zone):
            rows.append(Row(label, SHAPES[kind], kind, marks))
    return tuple(rows)


def marks_of(
    moments: Iterable[Marked], axis: TimeAxis, zone: dt.tzinfo | None
) -> tuple[Entry, ...]:
    """Return the Entries of (moment, words) that lie on an axis, oldest first.

    More than MARKS_MAX are joined where they crowd, so that a row stays legible.
    """
    shown = sorted((m.astimezone(zone), words) for m, words in moments if axis.holds(m))
    if len(shown) <= MARKS_MAX:
        return tuple(Entry(axis.percent(m), f"{day_text(m)} {words}") for m, words in shown)
    wide = 100.0 / MARKS_MAX
    runs = [list(run) for _, run in groupby(shown, lambda at: axis.percent(at[0]) // wide)]
    return tuple(joined_mark(run, axis) for run in runs)


def joined_mark(run: Sequence[Marked], axis: TimeAxis) -> Entry:
    """Return one Entry for the (moment, words) of a run, oldest first."""
    (first, words), (last, _) = run[0], run[-1]
    if len(run) == 1:
        return Entry(axis.percent(first), f"{day_text(first)} {words}")
    middle = first + (last - first) / 2
    span = f"{day_text(first)} to {day_text(last)}"
    return Entry(axis.percent(middle), f"{span}: {len(run)} entries", count=len(run))


def noon(note: HealthNote, zone: dt.tzinfo) -> dt.datetime:
    """Return where a note stands: at noon, so that it lies within its day."""
    return midnight(note.noted_on, zone) + dt.timedelta(hours=12)


def note_rows(notes: Sequence[HealthNote], axis: TimeAxis, zone: dt.tzinfo) -> tuple[Row, ...]:
    """Return a row for each kind of note there is, in the order of the choices."""
    rows = []
    for seen in list(HealthNote.Seen):
        signed = [note for note in notes if seen in note.signs]
        marks = marks_of([(noon(note, zone), note.in_words()) for note in signed], axis, zone)
        if marks:
            label = SIGN_LABELS.get(seen, seen.label)
            rows.append(Row(label, SHAPES[seen], f"note-{seen.value}", marks))
    return tuple(rows)
