"""A coral's colours drawn over time: patches, and plots of what was measured with intervals."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from uuid import UUID

from apps.common.moments import day_text
from apps.corals.photos.colour_story import ColourPoint, ColourStory
from apps.drawing.marks import Tick
from apps.drawing.time_axis import TimeAxis, ValueAxis, midnight, value_axis
from apps.photics.colour.own_range import OwnRange

PLOT_HEIGHT = 84
# Narrow enough for weekly photos of a year on a phone.
PATCH_WIDTH = 10


@dataclass(frozen=True)
class Patch:
    at: float  # % of the width
    hex: str
    words: str


@dataclass(frozen=True)
class ColourPlot:
    """One number over time. Paths lie in a box 1000 wide that is stretched to the page."""

    key: str
    name: str
    ticks: tuple[Tick, ...]
    line: str
    dots: str
    whiskers: str
    # Own range as (top, height) in pixels, None while the history is short.
    usual: tuple[float, float] | None
    summary: str
    height: int = PLOT_HEIGHT


@dataclass(frozen=True)
class ColourDrawing:
    patches: tuple[Patch, ...]
    plots: tuple[ColourPlot, ...]


PLOTS = (
    ("paleness", "Paleness: up is paler"),
    ("browning", "Browning: up is browner"),
    ("lightness", "Lightness L*"),
    ("chroma", "Chroma C*: up is more colourful"),
    ("difference", "Difference from its baseline, dE00"),
)


def colour_drawing(story: ColourStory, axis: TimeAxis, zone: dt.tzinfo) -> ColourDrawing | None:
    """Return the ColourDrawing of a ColourStory on a TimeAxis.

    None without two colours, or with none in the stretch the axis shows.
    """
    points = [point for point in story.compared if axis.holds(noon(point.day, zone))]
    if len(story.compared) < 2 or not points:
        return None
    places = {point.photo_key: noon(point.day, zone) for point in points}
    patches = tuple(
        Patch(
            axis.percent(places[point.photo_key]),
            point.hex,
            f"{day_text(point.day)}: {point.hue_words}, L* {point.lightness.value:.0f}",
        )
        for point in points
        if point.hex is not None and point.lightness is not None
    )
    plots = tuple(
        colour_plot(key, name, points, places, axis, story.ranges.get(key))
        for key, name in PLOTS
        if any(getattr(point, key) is not None for point in points)
    )
    return ColourDrawing(patches, plots)


def noon(day: dt.date, zone: dt.tzinfo) -> dt.datetime:
    return midnight(day, zone) + dt.timedelta(hours=12)


def colour_plot(
    key: str,
    name: str,
    points: Iterable[ColourPoint],
    places: Mapping[UUID, dt.datetime],
    axis: TimeAxis,
    usual: OwnRange | None,
) -> ColourPlot:
    """Return the ColourPlot of one number of the points; the baseline's difference is left out."""
    values = [(places[p.photo_key], getattr(p, key)) for p in points]
    measured = [(place, value) for place, value in values if value is not None]
    top = max(value.high for _, value in measured)
    value_scale = value_axis(min(top, 100.0) if key in ("paleness", "lightness") else top,
                             height=PLOT_HEIGHT, most=3)  # fmt: skip
    spots = [(axis.path_x(moment), value) for moment, value in measured]
    line = "".join(
        f"{'L' if i else 'M'}{x:g} {value_scale.y(value.value):g}"
        for i, (x, value) in enumerate(spots)
    )
    # A line of no length with round ends is a dot that stays round when the box is stretched.
    dots = "".join(f"M{x:g} {value_scale.y(value.value):g}h0" for x, value in spots)
    whiskers = "".join(
        f"M{x:g} {value_scale.y(value.high):g}V{value_scale.y(value.low):g}" for x, value in spots
    )
    first, last = measured[0][1].value, measured[-1][1].value
    return ColourPlot(
        key=key,
        name=name,
        ticks=value_scale.ticks(most=3),
        line=line,
        dots=dots,
        whiskers=whiskers,
        usual=usual_band(usual, value_scale),
        summary=f"From {first:.0f} to {last:.0f} over {len(measured)} photos; the table has each.",
    )


def usual_band(usual: OwnRange | None, value_scale: ValueAxis) -> tuple[float, float] | None:
    """Return (top, height) of a coral's own usual range on a scale, None where there is none."""
    if usual is None:
        return None
    upper = value_scale.y(usual.high)
    return upper, round(value_scale.y(usual.low) - upper, 1)
