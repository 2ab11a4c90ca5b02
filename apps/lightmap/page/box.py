"""The whole box of water at a slant: level slices of light, rocks, corals and what hangs above."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.drawing.box import (
    CORNERS,
    SIDE_DIRECTIONS,
    TOP,
    Slant,
    brace_paths,
    drop_of,
    edges,
    face_of,
    facing,
    prism_edges,
    rock_faces,
    slant_for,
)
from apps.drawing.contours import filled_bands, line_path
from apps.drawing.cut import CROWDED_PIN_RADIUS, PIN_RADIUS, PINS_ROOMY
from apps.drawing.drawn_light import bands_of
from apps.drawing.legend import Legend, legend_of
from apps.drawing.marks import Mark, parted, tenth
from apps.lightmap.page.changed import ChangedField
from apps.lightmap.page.looks import CHANGE, Look, points_of, scale_for
from apps.lightmap.page.shown_light import MapLight
from apps.lightmap.pins import Pin
from apps.lightmap.shown_field import ShownField
from apps.photics.ground.scene import Fixture
from apps.tanks.models import Tank

# Depths of the slices as shares of the water's depth.
SLICES = (0.12, 0.5, 0.88)
# Cells along the longer side of a slice: coarser than the plan, three are drawn at once.
CELLS = 20
# Where the eye stands, walking round the tank.
TURNS = (
    "the front", "the front right corner", "the right end", "the back right corner",
    "the back", "the back left corner", "the left end", "the front left corner",
)  # fmt: skip


@dataclass(frozen=True)
class Slice:
    """A level cut as bands of (path, colour), its outline, and its depth [cm]."""

    bands: tuple[tuple[str, str], ...]
    outline: str
    depth_cm: float
    is_cut: bool = False  # the bands reach past the outline
    noise: str = ""  # of a change: where it may be none


@dataclass(frozen=True)
class Layer:
    """What is drawn together, deepest layer first: rock below a slice, then the slice."""

    rocks: tuple[tuple[str, str], ...]  # path and "top" or "side"
    slice: Slice | None


@dataclass(frozen=True)
class BoxPin:
    """A coral at its place, with the plumb line down to the bottom."""

    dot: Mark
    plumb: str


@dataclass(frozen=True)
class BoxDrawing:
    """The drawing, ready for a template."""

    view_box: str
    layers: tuple[Layer, ...]
    edges_behind: str
    edges_before: str
    front: Mark
    pins: tuple[BoxPin, ...]
    braces: tuple[str, ...]
    fixtures: tuple[str, ...]
    fixture_drops: str
    guessed: bool
    look: Look
    legend: Legend
    depths_cm: tuple[float, ...]
    seen_from: str
    turn_on: int
    turn_back: int

    @property
    def is_crowded(self) -> bool:
        """Whether there are so many pins that they are drawn small."""
        return len(self.pins) > PINS_ROOMY


def draw_box(
    light: MapLight, tank: Tank, look: Look, pins: Sequence[Pin], *, turn: int
) -> BoxDrawing:
    """Return the BoxDrawing of a light in a tank, `turn` eighths round, with Pins numbered."""
    turn %= len(TURNS)
    fixtures, guessed = fixtures_of(light)
    size = np.array([tank.length_cm, tank.width_cm, tank.depth_cm])
    faces = [face_of(fixture) for fixture in fixtures]
    slant, view_box = slant_for(turn, np.concatenate([CORNERS * size, *faces]))
    depths = tuple(round(share * tank.depth_cm, 1) for share in SLICES)
    shape = tank.scene()
    if shape.is_box:
        behind, before = edges(slant, size)
    else:
        behind, before = prism_edges(slant, shape.rim, tank.depth_cm)
    front_x, front_y = slant.at([(tank.length_cm / 2, 0.0, tank.depth_cm)])[0]
    return BoxDrawing(
        view_box=view_box,
        layers=layers(light, tank, look, slant, depths),
        edges_behind=behind,
        edges_before=before,
        front=Mark(tenth(front_x), tenth(front_y), here=facing(slant.angle, SIDE_DIRECTIONS[0])),
        pins=box_pins(slant, pins, tank),
        braces=brace_paths(slant, shape.braces),
        fixtures=tuple(slant.path(face) for face in faces),
        fixture_drops="".join(line_path(slant.at(drop_of(face))) for face in faces),
        guessed=guessed,
        look=look,
        legend=legend_of(scale_for(look)),
        depths_cm=depths,
        seen_from=TURNS[turn],
        turn_on=(turn + 1) % len(TURNS),
        turn_back=(turn - 1) % len(TURNS),
    )


def fixtures_of(light: MapLight) -> tuple[tuple[Fixture, ...], bool]:
    """Return the fixtures to draw, and whether they are a guess from the readings."""
    if light.rig:
        return light.rig, False
    fit = light.fitted.mapped.rig_fit
    return (fit.rig.fixtures, True) if fit else ((), False)


def layers(
    light: MapLight, tank: Tank, look: Look, slant: Slant, depths: Sequence[float]
) -> tuple[Layer, ...]:
    """Return the Layers from the bottom up: each slice covers what lies below it."""
    rocks = tank.scene_rocks()
    ends = [tank.depth_cm, *reversed(depths), 0.0]
    drawn = []
    for place, depth in enumerate([*reversed(depths), None]):
        faces = rock_faces(slant, rocks, top_cm=ends[place + 1], bottom_cm=ends[place])
        cut = None if depth is None else slice_at(light.field, tank, look, slant, depth)
        drawn.append(Layer(faces, cut))
    return tuple(drawn)


def slice_at(field: ShownField, tank: Tank, look: Look, slant: Slant, depth_cm: float) -> Slice:
    """Return the Slice of a light at a depth [cm]."""
    cut = field.grid(depth_cm, max(tank.length_cm, tank.width_cm) / CELLS)
    x, y = np.meshgrid(cut.x_cm, cut.y_cm)
    places = slant.at(np.stack([x, y, np.full(x.shape, depth_cm)], axis=-1))
    values = look.values(field, cut)
    shape = tank.scene()
    if shape.is_box:
        ring = CORNERS[list(TOP)] * (tank.length_cm, tank.width_cm, 0.0) + (0.0, 0.0, depth_cm)
    else:
        ring = np.array([(x, y, depth_cm) for x, y in shape.rim.corners_cm])
    at = places[..., 0], places[..., 1]
    noise = ""
    if look.key == CHANGE and isinstance(field, ChangedField):
        unsure = field.is_unsure(points_of(cut)).reshape(values.shape)
        noise = filled_bands(*at, unsure.astype(float), [0.5])[1]
    bands = bands_of(*at, values, scale_for(look))
    return Slice(bands, slant.path(ring), depth_cm, is_cut=not shape.is_box, noise=noise)


def box_pins(slant: Slant, pins: Sequence[Pin], tank: Tank) -> tuple[BoxPin, ...]:
    """Return the BoxPins of Pins; of many, those without room for a number are bare."""
    drawn = [pin_at(slant, number, pin, tank) for number, pin in enumerate(pins, start=1)]
    if len(drawn) <= PINS_ROOMY:
        return tuple(drawn)
    plumb_of = {pin.dot.text: pin.plumb for pin in drawn}
    dots = parted([pin.dot for pin in drawn], CROWDED_PIN_RADIUS)
    return tuple(BoxPin(dot, plumb_of.get(dot.text, "")) for dot in dots)


def pin_at(slant: Slant, number: int, pin: Pin, tank: Tank) -> BoxPin:
    """Return the BoxPin of a Pin."""
    foot = (pin.x_cm, pin.y_cm, tank.depth_cm)
    (x, y), (foot_x, foot_y) = slant.at([(pin.x_cm, pin.y_cm, pin.depth_cm), foot])
    start = min(y + PIN_RADIUS, foot_y)
    return BoxPin(
        Mark(tenth(x), tenth(y), str(number)),
        f"M{x:.1f} {start:.1f}L{foot_x:.1f} {foot_y:.1f}",
    )
