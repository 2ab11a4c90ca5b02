"""Two planes of light side by side, in one scale, with the lamps and corals over them."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.forms import BaseFormSet

from apps.drawing.cut import PINS_ROOMY
from apps.drawing.drawn_light import DrawnLight, draw_light, line_levels
from apps.drawing.frame import Frame
from apps.drawing.legend import Scale
from apps.drawing.marks import Mark, parted, polygon_points, tenth
from apps.drawing.plan import plan_frame, plan_rocks
from apps.lighting.models import HEIGHT, LEVEL, HungFixture
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.lengths import CM, INCH, UNIT_WORDS, from_cm
from apps.photics.ground.scene import Fixture
from apps.photics.optics.lit_face import face_corners_cm
from apps.planning.what_if.what_if import Plane, WhatIf
from apps.tanks.models import Tank

# What one tap moves a lamp by, in each unit of length, and its level [%]: our own choice.
STEPS = {CM: 1.0, INCH: 0.5}
LEVEL_STEP_PERCENT = 5.0
# So many corals the page lists at first; and the size of their pins in drawing units.
CORALS_FIRST, PIN_RADIUS = 8, 7.0


@dataclass(frozen=True)
class Face:
    """A fixture seen from above."""

    name: str
    points: str


@dataclass(frozen=True)
class PlaneDrawing:
    """The light of one level as SVG parts, with what hangs over it and the corals' pins."""

    frame: Frame
    light: DrawnLight
    rocks: tuple[dict[str, str], ...]
    faces: tuple[Face, ...]
    pins: tuple[Mark, ...]
    x_ticks: tuple[Mark, ...]
    y_ticks: tuple[Mark, ...]


def draw_pair(
    changed: WhatIf,
    tank: Tank,
    *,
    rows_now: Sequence[HungFixture],
    rows_then: Sequence[HungFixture],
    scale: Scale,
    unit: str,
) -> tuple[PlaneDrawing, PlaneDrawing]:
    """Return the PlaneDrawings of now and then of a WhatIf, both in the colours of a scale.

    `rows_now` and `rows_then` are the HungFixtures of each.
    """
    now, then = (
        draw_plane(plane, tank, rows=rows, spots_cm=changed.spots_cm, scale=scale, unit=unit)
        for plane, rows in ((changed.now, rows_now), (changed.then, rows_then))
    )
    return now, then


def draw_plane(
    plane: Plane,
    tank: Tank,
    *,
    rows: Sequence[HungFixture],
    spots_cm: FloatArray,
    scale: Scale,
    unit: str,
) -> PlaneDrawing:
    """Return one PlaneDrawing, seen from above, the front at the foot."""
    frame = plan_frame(tank)
    places = frame.x(plane.x_cm), frame.y(plane.y_cm)
    levels = line_levels(scale, plane.par_umol)
    return PlaneDrawing(
        frame=frame,
        light=draw_light(
            places, plane.par_umol, levels, scale, beyond=plane.extrapolated, frame=frame
        ),
        rocks=plan_rocks(tank, frame),
        faces=tuple(face_of(row.scene(), frame) for row in rows),
        pins=pins_of(spots_cm, frame),
        x_ticks=tuple(frame.x_ticks(unit)),
        y_ticks=tuple(frame.y_ticks(unit)),
    )


def pins_of(spots_cm: FloatArray, frame: Frame) -> tuple[Mark, ...]:
    """Return the Marks of corals at spots (m, 3) [cm]; of many, the first are numbered."""
    pins = [
        Mark(tenth(frame.x(x)), tenth(frame.y(y)), str(number), here=number <= CORALS_FIRST)
        for number, (x, y, _) in enumerate(spots_cm, start=1)
    ]
    return parted(pins, PIN_RADIUS) if len(pins) > PINS_ROOMY else tuple(pins)


def face_of(fixture: Fixture, frame: Frame) -> Face:
    """Return the Face of a fixture on a plan."""
    corners = [(frame.x(x), frame.y(y)) for x, y in face_corners_cm(fixture)]
    return Face(fixture.name, polygon_points(corners))


@dataclass(frozen=True)
class Handle:
    """What is dragged: the middle of one row's fixture, hidden while the row has no place."""

    number: int
    letter: str
    name: str
    x: str
    y: str
    hidden: bool


def handles_of(rows: BaseFormSet, tank: Tank) -> tuple[Handle, ...]:
    """Return a Handle for every row of a rig form, those left blank too."""
    frame = plan_frame(tank)
    handles = []
    for number, form in enumerate(rows.forms):
        tried = form.is_bound and form.is_valid() and form.cleaned_data.get("fixture")
        row = form.instance if tried else None
        if not form.is_bound:
            row = form.hanging
        x, y, name, hidden = frame.middle, frame.top, "new lamp", True
        if row is not None and row.x_cm is not None:
            x, y, name, hidden = frame.x(row.x_cm), frame.y(row.y_cm), row.name, False
        handles.append(Handle(number, form.letter, name, tenth(x), tenth(y), hidden))
    return tuple(handles)


def stage_of(tank: Tank, unit: str) -> dict[str, object]:
    """Return what the page's script needs to move lamps: the frame, and bounds in a unit."""
    frame = plan_frame(tank)
    lengths = {"x_cm": (0.0, tank.length_cm), "y_cm": (0.0, tank.width_cm), "height_cm": HEIGHT}
    bounds = {name: [from_cm(end, unit) for end in ends] for name, ends in lengths.items()}
    return {
        "left": frame.left, "top": frame.top, "width": frame.width, "height": frame.height,
        "acrossCm": tank.length_cm, "downCm": tank.width_cm, "cmPerUnit": UNIT_WORDS[unit],
        "bounds": bounds | {"level_percent": LEVEL},
        "steps": dict.fromkeys(lengths, STEPS[unit]) | {"level_percent": LEVEL_STEP_PERCENT},
    }  # fmt: skip
