"""The light map's two drawings, ready for a template: the plan at a depth, the section at a y."""

from dataclasses import dataclass

import numpy as np

from apps.common.contours import (
    Box,
    band_colours,
    filled_bands,
    isolines,
    line_path,
    place_labels,
    round_levels,
)
from apps.common.units import CM, CM_PER_INCH, INCH
from apps.surveys.map_frame import DRAWING_WIDTH, Frame, Tick, frame_for, tenth

# Cells along the longer side: fine enough for round lines on a phone, quick to compute.
CELLS = 30
# Places along each side at which the whole water is looked at for the scale of colours.
SCALE_ACROSS, SCALE_DOWN = 10, 6
# Extremes left to the open bands at both ends, so that one bright corner does not eat the scale.
SCALE_PERCENTILES = (1.0, 99.0)
# What lies within this share of the box counts as on the plane shown; at least so many cm.
NEAR_SHARE, NEAR_MIN_CM = 0.08, 2.0
# Text and pin sizes in drawing units; the style sheet draws them in these sizes on a phone.
LABEL_SIZE, PIN_RADIUS = 12.0, 9.0
DOT_RADIUS, DOT_AWAY_RADIUS = 3.0, 2.0
# How far an arrow key moves the crosshair [cm].
KEY_STEPS_CM = {CM: 1.0, INCH: CM_PER_INCH / 2}


@dataclass(frozen=True)
class Scale:
    """The levels between bands and the colour of each band, the same at every depth."""

    levels: tuple[float, ...]
    colours: tuple[str, ...]


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
    pins: tuple[Dot, ...]
    other_plane: str  # the other drawing's cut through this one, as path data
    x_ticks: list[Tick]
    y_ticks: list[Tick]
    readout: dict


def scale_of(shown, tank):
    """Return the Scale of a shown field, from what the readings span of the whole water."""
    axes = np.meshgrid(
        np.linspace(0.0, tank.length_cm, SCALE_ACROSS + 1),
        np.linspace(0.0, tank.width_cm, SCALE_ACROSS + 1),
        np.linspace(0.0, tank.depth_cm, SCALE_DOWN + 1),
    )
    found = shown.at(np.stack([axis.ravel() for axis in axes], axis=1))
    spanned = ~found.extrapolated
    values = found.par_umol[spanned] if spanned.any() else found.par_umol
    levels = round_levels(*np.percentile(values, SCALE_PERCENTILES))
    return Scale(levels, band_colours(len(levels) + 1))


def draw_plan(cut, scale, tank, *, y_cm, readings, pins, unit):
    """Return the Drawing of a GridEstimate, seen from above, front at the foot."""
    depth_cm = cut.depth_cm
    frame = frame_for(tank.length_cm, tank.width_cm, upward=True)
    near = max(NEAR_MIN_CM, NEAR_SHARE * tank.depth_cm)
    rocks = tuple(
        (
            frame.rectangle(rock.x_cm, rock.y_cm, rock.length_cm, rock.width_cm),
            rock.depth_cm <= depth_cm <= rock.depth_cm + rock.height_cm,
        )
        for rock in tank.rocks.all()
    )
    return draw(
        cut, cut.y_cm, frame, scale, rocks=rocks, unit=unit,
        dots=dots_of(readings, frame, "y_cm", lambda row: abs(row.depth_cm - depth_cm) <= near),
        pins=pins_of(pins, frame, "y_cm", lambda pin: abs(pin.depth_cm - depth_cm) <= near),
        other_plane=frame.y(y_cm), fixed=("depth", depth_cm),
    )  # fmt: skip


def draw_section(cut, scale, tank, *, depth_cm, readings, pins, unit):
    """Return the Drawing of a SectionEstimate, seen from the front, surface on top."""
    y_cm = cut.y_cm
    frame = frame_for(tank.length_cm, tank.depth_cm)
    near = max(NEAR_MIN_CM, NEAR_SHARE * tank.width_cm)
    rocks = tuple(
        (
            frame.rectangle(rock.x_cm, rock.depth_cm, rock.length_cm, rock.height_cm),
            rock.y_cm <= y_cm <= rock.y_cm + rock.width_cm,
        )
        for rock in tank.rocks.all()
    )
    return draw(
        cut, cut.depth_cm, frame, scale, rocks=rocks, unit=unit,
        dots=dots_of(readings, frame, "depth_cm", lambda row: abs(row.y_cm - y_cm) <= near),
        pins=pins_of(pins, frame, "depth_cm", lambda pin: abs(pin.y_cm - y_cm) <= near),
        other_plane=frame.y(depth_cm), fixed=("y", y_cm),
    )  # fmt: skip


def draw(cut, down_cm, frame, scale, *, rocks, dots, pins, other_plane, fixed, unit):
    """Return the Drawing of a cut; down_cm are its nodes on the second axis [cm]."""
    x, y = frame.x(cut.x_cm), frame.y(down_cm)
    paths = filled_bands(x, y, cut.par_umol, scale.levels)
    lines = isolines(x, y, cut.par_umol, scale.levels)
    labels = place_labels(
        lines,
        [f"{level:g}" for level in scale.levels],
        frame=frame.box(),
        font_size=LABEL_SIZE,
        taken=[box_round(pin) for pin in pins],
    )
    return Drawing(
        frame=frame,
        bands=tuple((p, c) for p, c in zip(paths, scale.colours, strict=True) if p),
        lines=tuple(line_path(line) for level in lines for line in level),
        labels=tuple(Dot(tenth(at.x), tenth(at.y), True, at.text) for at in labels),
        beyond=filled_bands(x, y, cut.extrapolated.astype(float), [0.5])[1],
        rocks=rocks,
        dots_here=dots[0],
        dots_away=dots[1],
        pins=pins,
        other_plane=f"M{frame.left:.1f} {other_plane:.1f}H{frame.right:.1f}",
        x_ticks=frame.x_ticks(unit),
        y_ticks=frame.y_ticks(unit),
        readout=readout_of(cut, down_cm, frame, fixed, unit),
    )


def box_round(pin):
    """Return the Box a pin stands on."""
    x, y = float(pin.x), float(pin.y)
    return Box(x - PIN_RADIUS, y - PIN_RADIUS, x + PIN_RADIUS, y + PIN_RADIUS)


def dots_of(readings, frame, second, is_here):
    """Return the path of the readings on the plane, and of those beside it.

    `second` names their coordinate on the second axis.
    """
    here, away = [], []
    for row in readings:
        x, y = frame.x(row.x_cm), frame.y(getattr(row, second))
        if is_here(row):
            here.append(circle_path(x, y, DOT_RADIUS))
        else:
            away.append(circle_path(x, y, DOT_AWAY_RADIUS))
    return "".join(here), "".join(away)


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


def readout_of(cut, down_cm, frame, fixed, unit):
    """Return what the page's script needs to answer for any point of the cut."""
    axis, at_cm = fixed
    return {
        "axis": axis,
        "words": {"unit": unit, "cmPerInch": CM_PER_INCH, "stepCm": KEY_STEPS_CM[unit]},
        "atCm": round(at_cm, 2),
        "acrossCm": frame.across_cm,
        "downCm": frame.down_cm,
        "columns": len(cut.x_cm),
        "rows": len(down_cm),
        "par": flat(cut.par_umol),
        "low": flat(cut.low_umol),
        "high": flat(cut.high_umol),
        "beyond": cut.extrapolated.astype(int).ravel().tolist(),
        "frame": {
            "left": frame.left,
            "top": frame.top,
            "width": frame.width,
            "height": frame.height,
            "upward": frame.upward,
        },
    }


def flat(values):
    """Return values row by row, rounded to what a screen shows."""
    return np.round(values, 1).ravel().tolist()


@dataclass(frozen=True)
class LegendCell:
    """One band of the legend; `upto` is the level at its right edge, empty for the last."""

    x: str
    right: str
    width: str
    colour: str
    upto: str


def legend_of(scale):
    """Return the legend's cells from dim to bright."""
    width = DRAWING_WIDTH / len(scale.colours)
    texts = [*(f"{level:g}" for level in scale.levels), ""]
    return [
        LegendCell(tenth(i * width), tenth((i + 1) * width), tenth(width), colour, text)
        for i, (colour, text) in enumerate(zip(scale.colours, texts, strict=True))
    ]
