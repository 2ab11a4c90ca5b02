"""A coral's colour over time: as measured in its photos, else as its notes put it by eye."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from apps.common.moments import day_text
from apps.corals.models import HealthNote
from apps.corals.photos.colour_story import ColourPoint, ColourStory
from apps.drawing.line_ends import LineEnd, spread
from apps.drawing.marks import Tick
from apps.drawing.time_axis import TimeAxis, ValueAxis, midnight, value_axis
from apps.photics.colour.own_range import OwnRange
from apps.photics.colour.scales import Value

PLOT_HEIGHT = 96
# Below so many points no line is drawn: there is nothing to follow.
POINTS_MIN = 2
# What of a colour may be drawn, and its name; the table has the rest.
INDICES = {
    "paleness": "Colour in photos: up is paler",
    "browning": "Colour in photos: up is browner",
}
BY_EYE_NAME = "How it looked, by eye"


@dataclass(frozen=True)
class Patch:
    at: float  # % of the width
    hex: str
    words: str


@dataclass(frozen=True)
class ColourDrawing:
    """One line over time. Paths lie in a box 1000 wide that is stretched to the page."""

    key: str
    name: str
    patches: tuple[Patch, ...]
    ticks: tuple[Tick, ...]
    line: str
    dots: str
    whiskers: str
    # Own range as (top, height) in pixels, None while the history is short.
    usual: tuple[float, float] | None
    ends: tuple[LineEnd, ...]
    summary: str
    height: int = PLOT_HEIGHT


def colour_drawing(
    story: ColourStory | None, notes: Iterable[HealthNote], axis: TimeAxis, zone: dt.tzinfo
) -> ColourDrawing | None:
    """Return the ColourDrawing of a ColourStory on a TimeAxis, else that of the notes' conditions.

    None where neither has two points, or none in the stretch the axis shows.
    """
    if story and len(story.compared) >= POINTS_MIN:
        return measured_drawing(story, axis, zone)
    return condition_drawing(notes, axis, zone)


def measured_drawing(story: ColourStory, axis: TimeAxis, zone: dt.tzinfo) -> ColourDrawing | None:
    """Return the ColourDrawing of the photos that compare, on an axis from what they hold."""
    points = [point for point in story.compared if axis.holds(noon(point.day, zone))]
    key = index_drawn(story)
    row = index_of(points, key, zone)
    if not row:
        return None
    first, last = row[0][1].value, row[-1][1].value
    usual = story.ranges.get(key)
    ends = [value for _, point in row for value in (point.low, point.high)]
    ends += [usual.low, usual.high] if usual else []
    scale = value_axis(max(ends), smallest=min(ends), height=PLOT_HEIGHT)
    line, dots = line_and_dots([(axis.path_x(at), scale.y(value.value)) for at, value in row])
    return ColourDrawing(
        key=key,
        name=INDICES[key],
        patches=patches_of(points, axis, zone),
        ticks=scale.ticks(),
        line=line,
        dots=dots,
        whiskers="".join(
            f"M{axis.path_x(at):g} {scale.y(value.high):g}V{scale.y(value.low):g}"
            for at, value in row
        ),
        usual=usual_band(usual, scale),
        ends=(LineEnd(scale.y(last), f"{last:.0f}", "last"),),
        summary=f"from {first:.0f} to {last:.0f} over {len(row)} photos",
    )


def index_drawn(story: ColourStory) -> str:
    """Return the index that rose most over all photos: a coral that browns is less pale."""

    def rise(key: str) -> float:
        values = [value.value for point in story.compared if (value := getattr(point, key))]
        return max(values) - values[0] if values else 0.0

    return max(INDICES, key=rise)


def patches_of(points: Iterable[ColourPoint], axis: TimeAxis, zone: dt.tzinfo) -> tuple[Patch, ...]:
    """Return a patch of the colour that each photo measured."""
    return tuple(
        Patch(
            axis.percent(noon(point.day, zone)),
            point.hex,
            f"{day_text(point.day)}: {point.hue_words}, L* {point.lightness.value:.0f}",
        )
        for point in points
        if point.hex is not None and point.lightness is not None
    )


def index_of(
    points: Iterable[ColourPoint], key: str, zone: dt.tzinfo
) -> list[tuple[dt.datetime, Value]]:
    """Return (moment, Value) of one index of the points that have it."""
    values = [(noon(point.day, zone), getattr(point, key)) for point in points]
    return [(moment, value) for moment, value in values if value is not None]


def line_and_dots(spots: Sequence[tuple[float, float]]) -> tuple[str, str]:
    """Return the path along points and the path of dots on them."""
    line = "".join(f"{'L' if i else 'M'}{x:g} {y:g}" for i, (x, y) in enumerate(spots))
    # A line of no length with round ends is a dot that stays round when the box is stretched.
    return line, "".join(f"M{x:g} {y:g}h0" for x, y in spots)


def usual_band(usual: OwnRange | None, scale: ValueAxis) -> tuple[float, float] | None:
    """Return (top, height) of a coral's own usual range on a scale, None where there is none."""
    if usual is None:
        return None
    upper = scale.y(usual.high)
    return upper, round(scale.y(usual.low) - upper, 1)


def condition_drawing(
    notes: Iterable[HealthNote], axis: TimeAxis, zone: dt.tzinfo
) -> ColourDrawing | None:
    """Return the ColourDrawing of what notes say of a coral as a whole, None below two of them."""
    said = sorted(
        (noon(note.noted_on, zone), note.condition)
        for note in notes
        if note.condition and axis.holds(noon(note.noted_on, zone))
    )
    if len(said) < POINTS_MIN:
        return None
    words = dict(HealthNote.Condition.choices)
    best, worst, last = max(words), min(words), said[-1][1]
    scale = ValueAxis(best + 0.5, PLOT_HEIGHT, worst - 0.5)
    line, dots = line_and_dots([(axis.path_x(moment), scale.y(at)) for moment, at in said])
    ends = [
        LineEnd(scale.y(at), words[at], "last" if at == last else "end")
        for at in dict.fromkeys((best, last, worst))
    ]
    return ColourDrawing(
        key="condition",
        name=BY_EYE_NAME,
        patches=(),
        ticks=tuple(Tick(scale.y(at), "") for at in words),
        line=line,
        dots=dots,
        whiskers="",
        usual=None,
        ends=spread(ends, height=PLOT_HEIGHT),
        summary=f"from {words[said[0][1]]} to {words[last]} over {len(said)} notes",
    )


def noon(day: dt.date, zone: dt.tzinfo) -> dt.datetime:
    return midnight(day, zone) + dt.timedelta(hours=12)
