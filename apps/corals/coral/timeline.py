"""A coral's light, its colour and what happened to it on one time axis, ready to draw and list."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from apps.corals.coral.event_rows import (
    ROW_HEIGHT,
    Row,
    Vertical,
    event_rows,
    noon,
    note_rows,
    stacked,
    verticals,
)
from apps.corals.coral.light_plot import LightPlot, light_plot
from apps.corals.coral.light_steps import LightStep, light_steps
from apps.corals.coral.stretch import DAY, SPANS, Stretch, stretch_within
from apps.corals.models import Coral, HealthNote
from apps.corals.photos.colour_drawing import ColourDrawing, colour_drawing
from apps.corals.photos.colour_story import ColourStory
from apps.drawing.marks import Tick
from apps.drawing.time_axis import TimeAxis, midnight
from apps.lightmap.lightmap import TankLight

# Heights in pixels: the name over a plot, the patches over the colours, the room below a plot.
NAME_HEIGHT, PATCH_HEIGHT, GAP, AXIS_HEIGHT = 26, 24, 20, 22
# A coral that came today still gets an axis to look at.
SHORTEST = dt.timedelta(days=28)
# So many steps of light are drawn where no stretch is chosen.
STEPS_MOST = 400


@dataclass(frozen=True)
class Tops:
    """Where the parts of the drawing begin, in pixels from its top."""

    light: int
    colour_name: int
    colour: int
    rows: int
    axis: int
    height: int


@dataclass(frozen=True)
class Timeline:
    axis: TimeAxis
    time_ticks: tuple[Tick, ...]
    steps: tuple[LightStep, ...]
    light: LightPlot | None
    colour: ColourDrawing | None
    rows: tuple[Row, ...]
    verticals: tuple[Vertical, ...]
    summary: str
    # None where all is shown and nothing is to choose.
    stretch: Stretch | None = None

    @property
    def tops(self) -> Tops:
        """Return where the plots lie below each other: light, colour, rows of events, axis."""
        at = NAME_HEIGHT
        light, at = at, at + (self.light.height + GAP if self.light else 0)
        # Where no light is drawn, the colour takes its place.
        name = at if self.light else 0
        colour = name + NAME_HEIGHT
        if self.colour:
            colour += PATCH_HEIGHT if self.colour.patches else 0
            at = colour + self.colour.height + GAP
        axis = at + len(self.rows) * ROW_HEIGHT
        return Tops(light, name, colour, at, axis, axis + AXIS_HEIGHT)


def coral_timeline(
    coral: Coral,
    light: TankLight,
    notes: Sequence[HealthNote],
    *,
    now: dt.datetime,
    query: Mapping[str, str] | None = None,
    colours: ColourStory | None = None,
) -> Timeline:
    """Return the Timeline of a coral from its spots (read), the TankLight, its notes and colours.

    `query` names the stretch to show: {days, until}. One query: the water events of its tank.
    """
    whole = time_axis(coral, notes, now)
    stretch = stretch_within(query or {}, whole, usual_days=usual_days(light, whole))
    return timeline_on(stretch.axis, coral, light, notes, colours=colours, stretch=stretch)


def timeline_on(
    axis: TimeAxis,
    coral: Coral,
    light: TankLight,
    notes: Sequence[HealthNote],
    *,
    colours: ColourStory | None = None,
    stretch: Stretch | None = None,
) -> Timeline:
    """Return the Timeline of a coral on a TimeAxis."""
    zone = coral.tank.zone
    notes = [note for note in notes if axis.holds(noon(note, zone))]
    steps = light_steps(coral, light, axis)
    events = event_rows(coral, light, axis)
    return Timeline(
        axis=axis,
        stretch=stretch,
        time_ticks=axis.ticks(),
        steps=steps,
        light=light_plot(steps, axis, coral),
        colour=colour_drawing(colours, notes, axis, zone),
        rows=stacked(events + note_rows(notes, axis, zone)),
        verticals=verticals(events),
        summary=summary(steps, notes),
    )


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
