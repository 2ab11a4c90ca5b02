"""The light map's two drawings, ready for a template: the plan at a depth, the section at a y."""

from dataclasses import dataclass

import numpy as np

from apps.drawing.contours import (
    Box,
    filled_bands,
    isolines,
    line_path,
    place_labels,
    round_levels,
    spread_over,
)
from apps.drawing.frame import DRAWING_WIDTH, Frame, Tick, frame_for, tenth
from apps.photics.ground.lengths import CM, CM_PER_INCH, INCH

# Cells along the longer side: fine enough for round lines on a phone, quick to compute.
CELLS = 30
# A plane crossed by fewer lines has lines of its own, unless its light is all but even.
LINES_MIN, FLAT_FACTOR = 2, 1.1
# What lies within this share of the box counts as on the plane shown; at least so many cm.
NEAR_SHARE, NEAR_MIN_CM = 0.08, 2.0
# Text and pin sizes in drawing units; the style sheet draws them in these sizes on a phone.
LABEL_SIZE, PIN_RADIUS = 12.0, 9.0
DOT_RADIUS, DOT_AWAY_RADIUS, DOT_ODD_RADIUS = 3.0, 2.0, 6.5
# How far an arrow key moves the crosshair [cm].
KEY_STEPS_CM = {CM: 1.0, INCH: CM_PER_INCH / 2}


@dataclass(frozen=True)
class Dot:
    """A text or pin on a drawing: at x, y, on the plane shown or `here` False beside it."""

    x: str
    y: str
    here: bool
    text: str = ""


@dataclass(frozen=True)
class Drawing:
    """One cut through the water as SVG parts, and the numbers a read-out needs."""

    frame: Frame
    bands: tuple[tuple[str, str], ...]  # path and colour
    lines: tuple[str, ...]
    labels: tuple[Dot, ...]
    beyond: str
    rocks: tuple[tuple[dict, bool], ...]
    dots_here: str  # readings near the plane as one path, for hundreds cost no more than one
    dots_away: str
    dots_odd: str  # readings that do not fit the rest, wherever they are
    pins: tuple[Dot, ...]
    spots: tuple[Dot, ...]  # where to read next
    other_plane: str  # the other drawing's cut through this one, as path data
    x_ticks: list[Tick]
    y_ticks: list[Tick]
    readout: dict


def draw_plan(cut, values, scale, tank, *, y_cm, readings, pins, unit, spots=()):
    """Return the Drawing of a GridEstimate, seen from above, front at the foot.

    `values` (ny, nx) are what the colours show at its nodes.
    """
    depth_cm = cut.depth_cm
    frame = frame_for(tank.length_cm, tank.width_cm, upward=True)
    near = max(NEAR_MIN_CM, NEAR_SHARE * tank.depth_cm)
    rocks = tuple(
        (
            (rock.x_cm, rock.x_cm + rock.length_cm, rock.y_cm, rock.y_cm + rock.width_cm),
            rock.depth_cm < depth_cm < rock.depth_cm + rock.height_cm,
        )
        for rock in tank.scene_rocks()
    )
    return draw(
        cut, values, cut.y_cm, frame, scale, rocks=rocks, unit=unit,
        dots=dots_of(readings, frame, "y_cm", lambda row: abs(row.depth_cm - depth_cm) <= near),
        pins=pins_of(pins, frame, "y_cm", lambda pin: abs(pin.depth_cm - depth_cm) <= near),
        spots=spots_of(spots, frame, "y_cm", lambda spot: abs(spot.depth_cm - depth_cm) <= near),
        other_plane=frame.y(y_cm), fixed=("depth", depth_cm),
    )  # fmt: skip


def draw_section(cut, values, scale, tank, *, depth_cm, readings, pins, unit, spots=()):
    """Return the Drawing of a SectionEstimate, seen from the front, surface on top."""
    y_cm = cut.y_cm
    frame = frame_for(tank.length_cm, tank.depth_cm)
    near = max(NEAR_MIN_CM, NEAR_SHARE * tank.width_cm)
    rocks = tuple(
        (
            (rock.x_cm, rock.x_cm + rock.length_cm, rock.depth_cm, rock.depth_cm + rock.height_cm),
            rock.y_cm < y_cm < rock.y_cm + rock.width_cm,
        )
        for rock in tank.scene_rocks()
    )
    return draw(
        cut, values, cut.depth_cm, frame, scale, rocks=rocks, unit=unit,
        dots=dots_of(readings, frame, "depth_cm", lambda row: abs(row.y_cm - y_cm) <= near),
        pins=pins_of(pins, frame, "depth_cm", lambda pin: abs(pin.y_cm - y_cm) <= near),
        spots=spots_of(spots, frame, "depth_cm", lambda spot: abs(spot.y_cm - y_cm) <= near),
        other_plane=frame.y(depth_cm), fixed=("y", y_cm),
    )  # fmt: skip


def draw(cut, values, down_cm, frame, scale, *, rocks, dots, pins, spots, other_plane, fixed, unit):
    """Return the Drawing of a cut; down_cm are its nodes on the second axis [cm]."""
    x, y = frame.x(cut.x_cm), frame.y(down_cm)
    spans = [span for span, here in rocks if here]
    hidden = hidden_by(spans, cut.x_cm, down_cm)
    values = spread_over(values, hidden)
    paths = filled_bands(x, y, values, scale.levels)
    levels = line_levels(scale, values[~hidden] if not hidden.all() else values)
    lines = isolines(x, y, values, levels)
    labels = place_labels(
        lines,
        [f"{level:g}{scale.sign}" for level in levels],
        frame=frame.box(),
        font_size=LABEL_SIZE,
        taken=[*(box_round(pin) for pin in (*pins, *spots)), *(box_of(frame, s) for s in spans)],
    )
    return Drawing(
        frame=frame,
        bands=tuple((p, c) for p, c in zip(paths, scale.colours, strict=True) if p),
        lines=tuple(line_path(line) for level in lines for line in level),
        labels=tuple(Dot(tenth(at.x), tenth(at.y), True, at.text) for at in labels),
        beyond=filled_bands(x, y, cut.extrapolated.astype(float), [0.5])[1],
        rocks=tuple((frame.rectangle(*sides_of(span)), here) for span, here in rocks),
        dots_here=dots[0],
        dots_away=dots[1],
        dots_odd=dots[2],
        pins=pins,
        spots=spots,
        other_plane=f"M{frame.left:.1f} {other_plane:.1f}H{frame.right:.1f}",
        x_ticks=frame.x_ticks(unit),
        y_ticks=frame.y_ticks(unit),
        readout=readout_of(cut, down_cm, frame, fixed, unit, hidden, spans),
    )


def sides_of(span):
    """Return a span's corner and sizes [cm]."""
    left, right, start, end = span
    return left, start, right - left, end - start


def hidden_by(spans, x_cm, down_cm):
    """Return which nodes (ny, nx) lie within a rock cut by the plane."""
    across, down = np.meshgrid(x_cm, down_cm)
    hidden = np.zeros(across.shape, bool)
    for left, right, start, end in spans:
        hidden |= (across > left) & (across < right) & (down > start) & (down < end)
    return hidden


def line_levels(scale, values):
    """Return the levels to draw lines at: the scale's, or finer ones where few cross the plane.

    Colours stay those of the whole water; a plane within one band still shows how it varies.
    """
    low, high = float(values.min()), float(values.max())
    crossed = sum(low < level < high for level in scale.levels)
    is_flat = high < FLAT_FACTOR * low
    return scale.levels if crossed >= LINES_MIN or is_flat else round_levels(low, high)


def box_round(pin):
    """Return the Box a pin stands on."""
    x, y = float(pin.x), float(pin.y)
    return Box(x - PIN_RADIUS, y - PIN_RADIUS, x + PIN_RADIUS, y + PIN_RADIUS)


def box_of(frame, span):
    """Return the Box of a rock on the drawing."""
    left, right, start, end = span
    ends = sorted((frame.y(start), frame.y(end)))
    return Box(frame.x(left), ends[0], frame.x(right), ends[1])


def dots_of(readings, frame, second, is_here):
    """Return the paths of the readings on the plane, of those beside it, and of odd ones.

    `second` names their coordinate on the second axis.
    """
    here, away, odd = [], [], []
    for row in readings:
        x, y = frame.x(row.x_cm), frame.y(getattr(row, second))
        if row.disagrees:
            odd.append(diamond_path(x, y, DOT_ODD_RADIUS))
        elif is_here(row):
            here.append(circle_path(x, y, DOT_RADIUS))
        else:
            away.append(circle_path(x, y, DOT_AWAY_RADIUS))
    return "".join(here), "".join(away), "".join(odd)


def diamond_path(x, y, radius):
    """Return a square on its corner as path data."""
    r = f"{radius:g}"
    return f"M{x:.1f} {y - radius:.1f}l{r} {r}l-{r} {r}l-{r} -{r}Z"


def circle_path(x, y, radius):
    """Return a circle as path data: two half turns."""
    r = f"{radius:g}"
    return (
        f"M{x - radius:.1f} {y:.1f}a{r} {r} 0 1 0 {2 * radius:g} 0a{r} {r} 0 1 0 {-2 * radius:g} 0"
    )


def pins_of(pins, frame, second, is_here):
    """Return a numbered Dot for each pin."""
    return tuple(
        Dot(
            tenth(frame.x(pin.x_cm)),
            tenth(frame.y(getattr(pin, second))),
            is_here(pin),
            str(number),
        )
        for number, pin in enumerate(pins, start=1)
    )


def spots_of(spots, frame, second, is_here):
    """Return a lettered Dot for each NextSpot."""
    return tuple(
        Dot(
            tenth(frame.x(spot.x_cm)),
            tenth(frame.y(getattr(spot, second))),
            is_here(spot),
            spot.letter,
        )
        for spot in spots
    )


def readout_of(cut, down_cm, frame, fixed, unit, hidden, spans):
    """Return what the page's script needs to answer for any point of the cut.

    Nodes within rock are null, and `rocks` are its edges: left, right, start and end [cm].
    """
    axis, at_cm = fixed
    return {
        "axis": axis,
        "words": {"unit": unit, "cmPerInch": CM_PER_INCH, "stepCm": KEY_STEPS_CM[unit]},
        "atCm": round(at_cm, 2),
        "acrossCm": frame.across_cm,
        "downCm": frame.down_cm,
        "columns": len(cut.x_cm),
        "rows": len(down_cm),
        "par": flat(cut.par_umol, hidden),
        "low": flat(cut.low_umol, hidden),
        "high": flat(cut.high_umol, hidden),
        "rocks": [[round(edge, 2) for edge in span] for span in spans],
        "beyond": cut.extrapolated.astype(int).ravel().tolist(),
        "frame": {
            "left": frame.left,
            "top": frame.top,
            "width": frame.width,
            "height": frame.height,
            "upward": frame.upward,
        },
    }


def flat(values, hidden):
    """Return values row by row, rounded to what a screen shows, None where hidden."""
    rounded = np.round(values, 1).astype(object)
    rounded[hidden] = None
    return rounded.ravel().tolist()


@dataclass(frozen=True)
class LegendCell:
    """One band of the legend; `upto` is the level at its right edge, empty for the last."""

    x: str
    right: str
    width: str
    colour: str
    upto: str
    word: str


def legend_of(scale):
    """Return the legend's cells from dim to bright."""
    width = DRAWING_WIDTH / len(scale.colours)
    texts = [*(f"{level:g}" for level in scale.levels), ""]
    words = scale.words or ("",) * len(texts)
    return [
        LegendCell(tenth(i * width), tenth((i + 1) * width), tenth(width), colour, text, word)
        for i, (colour, text, word) in enumerate(zip(scale.colours, texts, words, strict=True))
    ]
