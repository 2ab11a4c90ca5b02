"""One flat cut through the water, ready for a template: bands, lines, rocks and what lies on it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from apps.drawing.contours import (
    spread_over,
)
from apps.drawing.drawn_light import DrawnLight, draw_light, line_levels
from apps.drawing.frame import Box, Frame
from apps.drawing.legend import Scale
from apps.drawing.marks import Mark, circle_path, diamond_path, parted, tenth
from apps.drawing.spacing import spaced
from apps.photics.ground.estimate import GridEstimate, SectionEstimate
from apps.photics.ground.lengths import CM, CM_PER_INCH, INCH
from apps.photics.ground.outline import outline_through
from apps.photics.ground.scene import Brace, Rock, Tank

# Cells along the longer side: fine enough for round lines on a phone, quick to compute.
CELLS = 45
# What lies within this share of the box counts as on the plane shown; at least so many cm.
NEAR_SHARE, NEAR_MIN_CM = 0.08, 2.0
# The size of a pin in drawing units; the style sheet draws it so on a phone.
PIN_RADIUS = 9.0
DOT_RADIUS, DOT_AWAY_RADIUS, DOT_ODD_RADIUS = 3.0, 2.0, 6.5
# The square of a letter with its edge.
LETTER_SIDE = 18.0
# How thick a brace is drawn in a section, in drawing units: nobody states it.
BRACE_DRAWN = 5.0
# More pins than this are drawn small, and of more readings the dots: chosen, because that many
# still stand apart on a phone.
PINS_ROOMY, READINGS_ROOMY, CROWDED_DOT = 15, 80, 0.6
# A pin among so many, and one that bears no number: the style sheet draws them so on a phone.
CROWDED_PIN_RADIUS, BARE_PIN_RADIUS = 6.0, 2.5
# How far an arrow key moves the crosshair [cm].
KEY_STEPS_CM = {CM: 1.0, INCH: CM_PER_INCH / 2}
# Along which of its sizes a rock reaches on from its corner.
SIZES = {"y_cm": "width_cm", "depth_cm": "height_cm"}

# Left, right, start and end of a rock on the axes of a plane [cm].
Span = tuple[float, float, float, float]


class Water(Protocol):
    """Water in its bounding box and the rocks in it [cm]."""

    @property
    def length_cm(self) -> float: ...
    @property
    def width_cm(self) -> float: ...
    @property
    def depth_cm(self) -> float: ...
    def scene(self) -> Tank: ...
    def scene_rocks(self) -> tuple[Rock, ...]: ...


class Place(Protocol):
    """Anything at a place in the water [cm]."""

    @property
    def x_cm(self) -> float: ...
    @property
    def y_cm(self) -> float: ...
    @property
    def depth_cm(self) -> float: ...


class ReadPlace(Place, Protocol):
    """A reading, and whether the others say something else of its place."""

    @property
    def disagrees(self) -> bool: ...


class LetteredPlace(Place, Protocol):
    """A spot to read next, or one that somebody commented on."""

    @property
    def letter(self) -> str: ...


@dataclass(frozen=True)
class Plane:
    """A flat cut through the water: `down` is the drawing's second axis, `fixed` stays the same."""

    frame: Frame
    down: str  # "y_cm" or "depth_cm"
    fixed: str  # the other of the two
    at_cm: float
    near_cm: float  # what lies this close counts as on the plane
    crossed_cm: float  # where the other drawing's plane goes through it, on the second axis

    @property
    def crossing(self) -> str:
        """Return the path along which the other drawing's plane goes through this one."""
        return f"M{self.frame.left:.1f} {self.frame.y(self.crossed_cm):.1f}H{self.frame.right:.1f}"

    @property
    def crossing_ends(self) -> str:
        """Return the path of two arrows that point at the crossing from outside the frame."""
        y, left, right = self.frame.y(self.crossed_cm), self.frame.left, self.frame.right
        return f"M{left - 1:.1f} {y:.1f}l-8 -4.5v9ZM{right + 1:.1f} {y:.1f}l8 -4.5v9Z"

    def holds(self, place: Place) -> bool:
        """Return whether a place counts as on the plane."""
        return bool(abs(getattr(place, self.fixed) - self.at_cm) <= self.near_cm)

    def at(self, place: Place) -> tuple[float, float]:
        """Return where a place lies on the drawing."""
        return self.frame.x(place.x_cm), self.frame.y(getattr(place, self.down))

    def brace(self, brace: Brace) -> tuple[dict[str, str], bool]:
        """Return the rectangle of a brace on the drawing, and whether the plane cuts it.

        A section shows it where it lies at the surface, as thick as glass is drawn.
        """
        if self.down == "y_cm":
            sides = brace.x_cm, brace.y_cm, brace.length_cm, brace.width_cm
            return self.frame.rectangle(*sides), self.at_cm <= self.near_cm
        thick = BRACE_DRAWN / self.frame.height * self.frame.down_cm
        cut = brace.y_cm <= self.at_cm <= brace.y_cm + brace.width_cm
        return self.frame.rectangle(brace.x_cm, 0.0, brace.length_cm, thick), cut

    def mark(self, place: Place, text: str) -> Mark:
        """Return the Mark of a place with its text."""
        x, y = self.at(place)
        return Mark(tenth(x), tenth(y), text, here=self.holds(place))

    def span(self, rock: Rock) -> Span:
        """Return the Span of a rock."""
        start = getattr(rock, self.down)
        end = start + getattr(rock, SIZES[self.down])
        return rock.x_cm, rock.x_cm + rock.length_cm, start, end

    def cuts(self, rock: Rock) -> bool:
        """Return whether the plane goes through a rock."""
        start = getattr(rock, self.fixed)
        return bool(start < self.at_cm < start + getattr(rock, SIZES[self.fixed]))


@dataclass(frozen=True)
class OnCut:
    """What is drawn over the light: readings, corals' pins, spots to read next."""

    readings: Sequence[ReadPlace] = ()
    pins: Sequence[Place] = ()
    spots: Sequence[LetteredPlace] = ()


@dataclass(frozen=True)
class Dots:
    """Readings as one path of each sort, for hundreds cost no more than one."""

    here: str  # near the plane
    away: str
    odd: str  # those that do not fit the rest, wherever they are


@dataclass(frozen=True)
class Drawing:
    """One cut through the water as SVG parts, and the numbers a read-out needs."""

    frame: Frame
    light: DrawnLight
    rocks: tuple[tuple[dict[str, str], bool], ...]
    dots: Dots
    pins: tuple[Mark, ...]
    spots: tuple[Mark, ...]  # where to read next, or what somebody commented on
    other_plane: str  # the other drawing's cut through this one, as path data
    other_ends: str  # an arrow at each end of it, outside the frame
    x_ticks: list[Mark]
    y_ticks: list[Mark]
    readout: dict[str, object]
    # Glass braces at the surface, and whether the plane goes through each.
    braces: tuple[tuple[dict[str, str], bool], ...] = ()

    @property
    def is_crowded(self) -> bool:
        """Whether there are so many pins that they are drawn small, and bare off the plane."""
        return len(self.pins) > PINS_ROOMY


def draw_cut(
    cut: GridEstimate | SectionEstimate,
    values: NDArray[np.float64],
    scale: Scale,
    plane: Plane,
    *,
    rocks: Sequence[Rock],
    braces: Sequence[Brace] = (),
    over: OnCut,
    unit: str,
    read: GridEstimate | SectionEstimate | None = None,
) -> Drawing:
    """Return the Drawing of a cut: `values` (ny, nx) are what the colours show at its nodes.

    Lengths of the axes and the read-out are in `unit`; the read-out knows the nodes of `read`, of
    the cut itself where there is no other.
    """
    frame = plane.frame
    spans = [plane.span(rock) for rock in rocks if plane.cuts(rock)]
    in_rock = hidden_by(spans, cut.x_cm, getattr(cut, plane.down))
    pins = pins_of(over.pins, plane)
    letters = [plane.mark(spot, spot.letter) for spot in over.spots]
    numbers = [box_round(pin) for pin in pins if pin.text]
    spots = spaced(letters, side=LETTER_SIDE, taken=numbers, within=frame.box())
    taken = [*map(box_round, (*pins, *spots)), *(box_of(frame, span) for span in spans)]
    return Drawing(
        frame=frame,
        light=light_of(cut, values, scale, plane, hidden=in_rock, taken=taken),
        rocks=tuple((frame.rectangle(*sides_of(plane.span(r))), plane.cuts(r)) for r in rocks),
        dots=dots_of(over.readings, plane),
        pins=pins,
        spots=spots,
        other_plane=plane.crossing,
        other_ends=plane.crossing_ends,
        x_ticks=frame.x_ticks(unit),
        y_ticks=frame.y_ticks(unit),
        readout=readout_of(read or cut, plane, unit, spans),
        braces=tuple(plane.brace(brace) for brace in braces),
    )


def pins_of(places: Sequence[Place], plane: Plane) -> tuple[Mark, ...]:
    """Return the numbered Marks of pins; of very many, some are bare."""
    pins = tuple(plane.mark(pin, str(number)) for number, pin in enumerate(places, start=1))
    return parted(pins, CROWDED_PIN_RADIUS) if len(pins) > PINS_ROOMY else pins


def light_of(
    cut: GridEstimate | SectionEstimate,
    values: NDArray[np.float64],
    scale: Scale,
    plane: Plane,
    *,
    hidden: NDArray[np.bool_],
    taken: Sequence[Box],
) -> DrawnLight:
    """Return the DrawnLight of a cut's values (ny, nx), `hidden` (ny, nx) where in rock.

    Outside the panes a field has the light of the nearest water. No label meets a `taken` Box.
    """
    values = spread_over(values, hidden)
    levels = line_levels(scale, values if hidden.all() else values[~hidden])
    frame = plane.frame
    places = frame.x(cut.x_cm), frame.y(getattr(cut, plane.down))
    return draw_light(
        places, values, levels, scale, beyond=cut.extrapolated, frame=frame, taken=taken
    )


def sides_of(span: Span) -> tuple[float, float, float, float]:
    """Return a span's corner and sizes [cm]."""
    left, right, start, end = span
    return left, start, right - left, end - start


def hidden_by(
    spans: Sequence[Span], x_cm: NDArray[np.float64], down_cm: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return which nodes (ny, nx) lie within a rock cut by the plane, or on a side of it.

    Right at a side it may be pitch dark, which a whole cell of the drawing must not be.
    """
    across, down = np.meshgrid(x_cm, down_cm)
    hidden = np.zeros(across.shape, bool)
    for left, right, start, end in spans:
        hidden |= (across >= left) & (across <= right) & (down >= start) & (down <= end)
    return hidden


def outside_of(
    frame: Frame, x_cm: NDArray[np.float64], down_cm: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return which nodes (ny, nx) lie outside the water that a frame shows."""
    across, down = np.meshgrid(x_cm, down_cm)
    if not frame.corners_cm:
        return np.zeros(across.shape, bool)
    return ~outline_through(frame.corners_cm).holds(across, down)


def box_round(pin: Mark) -> Box:
    """Return the Box a pin stands on."""
    x, y = float(pin.x), float(pin.y)
    radius = PIN_RADIUS if pin.text else BARE_PIN_RADIUS
    return Box(x - radius, y - radius, x + radius, y + radius)


def box_of(frame: Frame, span: Span) -> Box:
    """Return the Box of a rock on the drawing."""
    left, right, start, end = span
    ends = sorted((frame.y(start), frame.y(end)))
    return Box(frame.x(left), ends[0], frame.x(right), ends[1])


def dots_of(readings: Iterable[ReadPlace], plane: Plane) -> Dots:
    """Return the Dots of readings, by where the plane lies."""
    here, away, odd = [], [], []
    rows = list(readings)
    size = 1.0 if len(rows) <= READINGS_ROOMY else CROWDED_DOT
    for row in rows:
        x, y = plane.at(row)
        if row.disagrees:
            odd.append(diamond_path(x, y, DOT_ODD_RADIUS))
        elif plane.holds(row):
            here.append(circle_path(x, y, size * DOT_RADIUS))
        else:
            away.append(circle_path(x, y, size * DOT_AWAY_RADIUS))
    return Dots("".join(here), "".join(away), "".join(odd))


def readout_of(
    cut: GridEstimate | SectionEstimate,
    plane: Plane,
    unit: str,
    spans: Sequence[Span],
) -> dict[str, object]:
    """Return what the page's script needs to answer for any point of the cut.

    Nodes within rock or outside the water are null; `rocks` are the edges of rock: left, right,
    start and end [cm], `outline` the water's corners where it does not fill the frame.
    """
    frame, down_cm = plane.frame, getattr(cut, plane.down)
    hidden = hidden_by(spans, cut.x_cm, down_cm) | outside_of(frame, cut.x_cm, down_cm)
    return {
        "axis": plane.fixed.removesuffix("_cm"),
        "words": {"unit": unit, "cmPerInch": CM_PER_INCH, "stepCm": KEY_STEPS_CM[unit]},
        "atCm": round(plane.at_cm, 2),
        "acrossCm": frame.across_cm,
        "downCm": frame.down_cm,
        "columns": len(cut.x_cm),
        "rows": len(down_cm),
        "par": flat(cut.par_umol, hidden),
        "low": flat(cut.low_umol, hidden),
        "high": flat(cut.high_umol, hidden),
        "rocks": [[round(edge, 2) for edge in span] for span in spans],
        "outline": [[round(end, 2) for end in corner] for corner in frame.corners_cm],
        "beyond": cut.extrapolated.astype(int).ravel().tolist(),
        "frame": {
            "left": frame.left,
            "top": frame.top,
            "width": frame.width,
            "height": frame.height,
            "upward": frame.upward,
        },
    }


def flat(values: NDArray[np.float64], hidden: NDArray[np.bool_]) -> list[float | None]:
    """Return values row by row, rounded to what a screen shows, None where hidden."""
    rounded = np.round(values, 1).astype(object)
    rounded[hidden] = None
    return rounded.ravel().tolist()
