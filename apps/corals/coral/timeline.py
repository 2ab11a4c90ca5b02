"""A coral's light and notes on one time axis: from rows to what the page draws and lists."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from apps.common.moments import day_text
from apps.corals.coral.stretch import DAY, SPANS, Stretch, stretch_within
from apps.corals.models import Band, Coral, HealthNote, Spot
from apps.corals.status import rests_on
from apps.drawing.marks import Tick
from apps.drawing.time_axis import (
    Step,
    TimeAxis,
    band_path,
    kind_paths,
    midnight,
    value_axis,
)
from apps.lighting.change.factor import factor_words
from apps.lightmap.lightmap import TankLight
from apps.lightmap.spot_light import SpotLight

PAR_HEIGHT, DLI_HEIGHT, ROW_HEIGHT = 170, 64, 38
# Marks of a row; where there are more, those close to each other become one, so that each of
# them still has its own 14 pixels on a phone.
MARKS_MAX = 24
# A coral that came today still gets an axis to look at.
SHORTEST = dt.timedelta(days=28)
# So many steps of light are drawn where no stretch is chosen.
STEPS_MOST = 400
# An interval may reach far beyond its line where nothing was measured: the drawing stops here.
TALLEST = 3.0
# What stands on the axis: its moment, and its words.
Marked = tuple[dt.datetime, str]

MEASURED, RECKONED = "measured", "reckoned"

# Marks are told apart by shape, centred on 0, 0 and about 12 pixels wide.
SHAPES = {
    "light": "M-5-6H5L0 6Z",
    "survey": "M0-6L6 0L0 6L-6 0Z",
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


@dataclass(frozen=True)
class LightStep:
    """A stretch of time under one light at one spot; light is None where nothing is known."""

    start: dt.datetime
    end: dt.datetime
    spot: Spot | None
    light: SpotLight | None
    rests_on: str


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
    """An event drawn through the light above: where it is and of which kind."""

    at: float
    kind: str


@dataclass(frozen=True)
class Plot:
    """One stepped line over time, ready to draw: paths 1000 wide, heights in pixels."""

    height: float
    ticks: tuple[Tick, ...]
    band: str
    measured: str
    reckoned: str
    clipped: bool
    # The band the coral should have, as (top, height) in pixels; None in the plot of daily light.
    wanted: tuple[float, float] | None


@dataclass(frozen=True)
class Timeline:
    axis: TimeAxis
    time_ticks: tuple[Tick, ...]
    steps: tuple[LightStep, ...]
    par: Plot | None
    dli: Plot | None
    rows: tuple[Row, ...]
    rows_height: int
    verticals: tuple[Vertical, ...]
    summary: str
    # None where all is shown and nothing is to choose.
    stretch: Stretch | None = None


def coral_timeline(
    coral: Coral,
    light: TankLight,
    notes: Sequence[HealthNote],
    *,
    now: dt.datetime,
    query: Mapping[str, str] | None = None,
) -> Timeline:
    """Return the Timeline of a coral from its spots (read), the TankLight and its notes.

    `query` names the stretch to show: {days, until}. One query: the water events of its tank.
    """
    whole = time_axis(coral, notes, now)
    stretch = stretch_within(query or {}, whole, usual_days=usual_days(light, whole))
    axis = stretch.axis
    notes = [note for note in notes if axis.holds(noon(note, coral.tank.zone))]
    steps = light_steps(coral, light, axis)
    events = event_rows(coral, light, axis)
    rows = events + note_rows(notes, axis, coral.tank.zone)
    return Timeline(
        axis=axis,
        stretch=stretch,
        time_ticks=axis.ticks(),
        steps=steps,
        par=par_plot(steps, axis, coral.band()),
        dli=dli_plot(steps, axis),
        rows=tuple(replace(row, top=i * ROW_HEIGHT) for i, row in enumerate(rows)),
        rows_height=len(rows) * ROW_HEIGHT,
        verticals=verticals(events),
        summary=summary(steps, notes),
    )


def verticals(rows: Iterable[Row]) -> tuple[Vertical, ...]:
    """Return what of rows of events is drawn through the light."""
    # A reading a week would fence the light in; it keeps to its own row.
    shown = [row for row in rows if row.kind != "reading"]
    return tuple(Vertical(mark.at, row.kind) for row in shown for mark in row.marks)


def usual_days(light: TankLight, whole: TimeAxis) -> int | None:
    """Return how many days are shown where none are chosen; None for all of a whole TimeAxis.

    The longest of SPANS to its end that holds at most STEPS_MOST changes of light: more can't be
    told apart in a drawing, and each is worked out.
    """
    if len(light.steps_between(whole.start, whole.end)) <= STEPS_MOST:
        return None
    return next(
        (
            days
            for days, _ in SPANS
            if len(light.steps_between(whole.end - days * DAY, whole.end)) <= STEPS_MOST
        ),
        SPANS[-1][0],
    )


def time_axis(coral: Coral, notes: Sequence[HealthNote], now: dt.datetime) -> TimeAxis:
    """Return the axis from the coral's first day or first entry to now, or to the day it went."""
    zone = coral.tank.zone
    days = [coral.added_on, *(s.since for s in coral.spots.all()), *(n.noted_on for n in notes)]
    end = now.astimezone(zone)
    if coral.gone_on:
        # What was noted of it later is still shown.
        last = max([coral.gone_on, *(note.noted_on for note in notes)])
        end = min(end, midnight(last + dt.timedelta(days=1), zone))
    # A note of this morning stands at noon, which may be to come.
    end = max([end, *(noon(note, zone) for note in notes)])
    return TimeAxis(min(midnight(min(days), zone), end - SHORTEST), end)


def light_steps(coral: Coral, light: TankLight, axis: TimeAxis) -> tuple[LightStep, ...]:
    """Return the LightSteps that fill the axis, cut where the coral moved or the light changed."""
    zone = coral.tank.zone
    moves = [midnight(spot.since, zone) for spot in coral.spots.all()]
    cuts = {m.astimezone(zone) for m in [*moves, *light.steps_between(axis.start, axis.end)]}
    moments = [axis.start, *sorted(m for m in cuts if axis.start < m < axis.end), axis.end]
    steps = []
    for start, end in pairwise(moments):
        spot = coral.spot_on(start.date())
        point = [] if spot is None else [(spot.x_cm, spot.y_cm, spot.depth_cm)]
        result = next(iter(light.at(point, start)), None)
        steps.append(LightStep(start, end, spot, result, rests_on(result, zone) if result else ""))
    return tuple(steps)


def manner(light: SpotLight) -> str:
    """Return how a light is drawn: plain when measured where it is, else broken."""
    is_read = light.measured and not light.extrapolated and not light.measured_later
    return MEASURED if is_read else RECKONED


def par_plot(steps: Iterable[LightStep], axis: TimeAxis, band: Band) -> Plot | None:
    """Return the Plot of PAR with its interval, or None when no light is known at any time."""
    lit = [(s.start, s.end, s.light) for s in steps if s.light]
    if not lit:
        return None
    lines = [Step(a, b, at.par_umol, at.par_umol, manner(at)) for a, b, at in lit]
    bands = [Step(a, b, at.low_umol, at.high_umol) for a, b, at in lit]
    highest, brightest = max(s.high for s in bands), max(s.high for s in lines)
    value = value_axis(max(min(highest, TALLEST * brightest), band.high_umol), height=PAR_HEIGHT)
    paths = kind_paths(lines, time=axis, value=value)
    top = value.y(band.high_umol)
    return Plot(
        height=PAR_HEIGHT,
        ticks=value.ticks(),
        band=band_path(bands, time=axis, value=value),
        measured=paths.get(MEASURED, ""),
        reckoned=paths.get(RECKONED, ""),
        clipped=highest > value.top,
        wanted=(top, round(value.y(band.low_umol) - top, 1)),
    )


def dli_plot(steps: Iterable[LightStep], axis: TimeAxis) -> Plot | None:
    """Return the Plot of daily light, or None when no day schedule was ever entered."""
    lit = [(s, s.light, s.light.dli_mol) for s in steps if s.light]
    lines = [Step(s.start, s.end, d, d, manner(at)) for s, at, d in lit if d is not None]
    if not lines:
        return None
    value = value_axis(max(s.high for s in lines), height=DLI_HEIGHT, most=2)
    paths = kind_paths(lines, time=axis, value=value)
    return Plot(
        height=DLI_HEIGHT,
        ticks=value.ticks(most=2),
        band="",
        measured=paths.get(MEASURED, ""),
        reckoned=paths.get(RECKONED, ""),
        clipped=False,
        wanted=None,
    )


def event_rows(coral: Coral, light: TankLight, axis: TimeAxis) -> tuple[Row, ...]:
    """Return the rows of light changes, surveys, moves and water; none without an event."""
    zone = coral.tank.zone
    water = list(coral.tank.water_events.present().in_order())
    moves = sorted(spot.since for spot in coral.spots.all())
    by_kind = {
        ("light changed", "light"): [
            (
                c.happened_at,
                c.summary if c.factor == 1 else f"{c.summary}: {factor_words(c.factor)}",
            )
            for c in light.history.changes
        ],
        ("survey", "survey"): [(m.taken_at, "survey of the tank") for m in light.maps],
        # The first spot is where it was placed, not a move.
        ("moved", "move"): [(midnight(day, zone), "moved") for day in moves[1:]],
        ("water: could have hurt", "water"): [
            (event.happened_at, event.in_words()) for event in water if event.could_hurt
        ],
        ("water: readings and routine", "reading"): [
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
        marks = tuple(
            Entry(axis.percent(noon(note, zone)), f"{day_text(note.noted_on)} {note.in_words()}")
            for note in sorted(notes, key=lambda n: n.noted_on)
            if seen in note.signs
        )
        if marks:
            rows.append(Row(seen.label, SHAPES[seen], f"note-{seen.value}", marks))
    return tuple(rows)


def summary(steps: Sequence[LightStep], notes: Sequence[HealthNote]) -> str:
    """Say in a sentence what the drawing shows, for those who don't see it."""
    lit = [s.light.par_umol for s in steps if s.light]
    count = f"{len(notes)} health note{'' if len(notes) == 1 else 's'}"
    if not lit:
        return f"No light is known for this coral. {count}."
    return (
        f"PAR at its spot between {min(lit):.0f} and {max(lit):.0f}, last {lit[-1]:.0f}, "
        f"with {count} below. The same values stand in the table."
    )
