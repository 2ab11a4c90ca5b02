"""The whole box of water at a slant: level slices of light, rocks, corals and what hangs above.

A parallel projection: the box is turned about the plumb line, then tipped towards the eye, so
lengths along an axis stay comparable all over the drawing.
"""

import math
from dataclasses import dataclass

import numpy as np

from apps.drawing.contours import filled_bands, line_path
from apps.drawing.frame import DRAWING_WIDTH, tenth
from apps.lighting.rig import hung_corners_cm
from apps.lightmap.page.drawing import PIN_RADIUS, Dot, LegendCell, legend_of
from apps.lightmap.page.looks import Look, scale_for

# Depths of the slices as shares of the water's depth.
SLICES = (0.12, 0.5, 0.88)
# Cells along the longer side of a slice: coarser than the plan, three are drawn at once.
CELLS = 20
# How far the eye stands above the horizon [degrees].
TIP_DEG = 22.0
# A look square at a pane hides the sides: every view is turned on by this much [degrees].
ASKEW_DEG = 14.0
# Where the eye stands, walking round the tank.
TURNS = (
    "the front", "the front right corner", "the right end", "the back right corner",
    "the back", "the back left corner", "the left end", "the front left corner",
)  # fmt: skip
MARGIN, HEIGHT_MAX = 14.0, 420.0
# Corners of a box by (right, back, down), and the faces that can be seen besides the top.
CORNERS = np.array([(i, j, k) for k in (0, 1) for j in (0, 1) for i in (0, 1)], float)
TOP = (0, 1, 3, 2)
SIDES = ((0, 1, 5, 4), (2, 3, 7, 6), (0, 2, 6, 4), (1, 3, 7, 5))
SIDE_WAYS = np.array([(0, -1), (0, 1), (-1, 0), (1, 0)], float)
EDGES = ((0, 1), (2, 3), (4, 5), (6, 7), (0, 2), (1, 3), (4, 6), (5, 7), (0, 4), (1, 5), (2, 6),
         (3, 7))  # fmt: skip


@dataclass(frozen=True)
class Slice:
    """A level cut as bands of (path, colour), its outline, and its depth [cm]."""

    bands: tuple[tuple[str, str], ...]
    outline: str
    depth_cm: float


@dataclass(frozen=True)
class Layer:
    """What is drawn together, deepest layer first: rock below a slice, then the slice."""

    rocks: tuple[tuple[str, str], ...]  # path and "top" or "side"
    slice: Slice | None


@dataclass(frozen=True)
class BoxPin:
    """A coral at its place, with the plumb line down to the bottom."""

    dot: Dot
    plumb: str


@dataclass(frozen=True)
class BoxDrawing:
    """The drawing, ready for a template."""

    view_box: str
    layers: tuple[Layer, ...]
    edges_behind: str
    edges_before: str
    front: Dot
    pins: tuple[BoxPin, ...]
    fixtures: tuple[str, ...]
    fixture_drops: str
    guessed: bool
    look: Look
    legend: list[LegendCell]
    depths_cm: tuple[float, ...]
    seen_from: str
    turn_on: int
    turn_back: int


@dataclass(frozen=True)
class Slant:
    """Where points of the tank lie on the drawing."""

    across: np.ndarray  # (3,): drawing units per cm of x, y, depth
    down: np.ndarray
    left: float
    top: float

    def at(self, points_cm):
        """Return drawing places (n, 2) of points (n, 3) [cm]."""
        points = np.asarray(points_cm, float)
        return np.stack([points @ self.across + self.left, points @ self.down + self.top], axis=-1)

    def path(self, points_cm):
        """Return the closed path round points (n, 3) [cm]."""
        return line_path(self.at(points_cm)) + "Z"


def draw_box(sheet, pins):
    """Return the BoxDrawing of a LightMapSheet that knows its light."""
    tank, shown = sheet.tank, sheet.shown_field
    turn = sheet.asked.turn % len(TURNS)
    fixtures, guessed = fixtures_of(sheet)
    angle = math.radians(45.0 * turn + ASKEW_DEG)
    size = np.array([tank.length_cm, tank.width_cm, tank.depth_cm])
    faces = [face_of(fixture) for fixture in fixtures]
    slant, view_box = fit(angle, np.concatenate([CORNERS * size, *faces]))
    depths = tuple(round(share * tank.depth_cm, 1) for share in SLICES)
    scale = scale_for(sheet.look, shown, tank)
    behind, before = edges(slant, size, angle)
    middle = slant.at([(tank.length_cm / 2, 0.0, tank.depth_cm)])[0]
    return BoxDrawing(
        view_box=view_box,
        layers=layers(sheet, slant, angle, depths, scale),
        edges_behind=behind,
        edges_before=before,
        front=Dot(tenth(middle[0]), tenth(middle[1]), facing(angle, SIDE_WAYS[0]), "front"),
        pins=tuple(pin_at(slant, number, pin, tank) for number, pin in enumerate(pins, start=1)),
        fixtures=tuple(slant.path(face) for face in faces),
        fixture_drops="".join(line_path(slant.at(drop_of(face))) for face in faces),
        guessed=guessed,
        look=sheet.look,
        legend=legend_of(scale),
        depths_cm=depths,
        seen_from=TURNS[turn],
        turn_on=(turn + 1) % len(TURNS),
        turn_back=(turn - 1) % len(TURNS),
    )


def fixtures_of(sheet):
    """Return the fixtures to draw, and whether they are a guess from the readings."""
    if sheet.rig:
        return sheet.rig, False
    fit = sheet.fitted.field.rig_fit
    return (fit.rig.fixtures, True) if fit else ((), False)


def fit(angle, points_cm):
    """Return the Slant that shows all points (n, 3) at an angle, and its view box."""
    tip = math.radians(TIP_DEG)
    # The eye walks to the right: what is right of the middle comes nearer.
    across = np.array([math.cos(angle), math.sin(angle), 0.0])
    down = np.array(
        [math.sin(angle) * math.sin(tip), -math.cos(angle) * math.sin(tip), math.cos(tip)]
    )
    x, y = points_cm @ across, points_cm @ down
    room = DRAWING_WIDTH - 2 * MARGIN
    scale = min(room / np.ptp(x), HEIGHT_MAX / np.ptp(y))
    left = MARGIN - x.min() * scale + (room - np.ptp(x) * scale) / 2
    # Room at the foot for the word below the front edge.
    height = np.ptp(y) * scale + 2 * MARGIN + 10
    slant = Slant(across * scale, down * scale, left, MARGIN - y.min() * scale)
    return slant, f"0 0 {DRAWING_WIDTH:.0f} {height:.0f}"


def facing(angle, way):
    """Return whether an upright pane that looks along way (2,) is on the eye's side."""
    return float(np.dot(way, (math.sin(angle), -math.cos(angle)))) > 0


def edges(slant, size, angle):
    """Return the paths of the box's edges behind the water and before it."""
    hidden = set(range(8))
    for side, way in zip(SIDES, SIDE_WAYS, strict=True):
        if facing(angle, way):
            hidden -= set(side)
    hidden -= set(TOP)
    places = slant.at(CORNERS * size)
    paths = {True: [], False: []}
    for start, end in EDGES:
        paths[start in hidden or end in hidden].append(line_path(places[[start, end]]))
    return "".join(paths[True]), "".join(paths[False])


def layers(sheet, slant, angle, depths, scale):
    """Return the Layers from the bottom up: each slice covers what lies below it."""
    tank = sheet.tank
    ends = [tank.depth_cm, *reversed(depths), 0.0]
    found = []
    for place, depth in enumerate([*reversed(depths), None]):
        rocks = rock_faces(tank, slant, angle, top_cm=ends[place + 1], bottom_cm=ends[place])
        found.append(Layer(rocks, None if depth is None else slice_at(sheet, slant, depth, scale)))
    return tuple(found)


def slice_at(sheet, slant, depth_cm, scale):
    """Return the Slice at a depth [cm]."""
    tank = sheet.tank
    cut = sheet.shown_field.grid(depth_cm, max(tank.length_cm, tank.width_cm) / CELLS)
    x, y = np.meshgrid(cut.x_cm, cut.y_cm)
    places = slant.at(np.stack([x, y, np.full(x.shape, depth_cm)], axis=-1))
    values = sheet.look.values(sheet.shown_field, cut)
    paths = filled_bands(places[..., 0], places[..., 1], values, scale.levels)
    ring = CORNERS[list(TOP)] * (tank.length_cm, tank.width_cm, 0.0) + (0.0, 0.0, depth_cm)
    bands = tuple((p, c) for p, c in zip(paths, scale.colours, strict=True) if p)
    return Slice(bands, slant.path(ring), depth_cm)


def rock_faces(tank, slant, angle, *, top_cm, bottom_cm):
    """Return the visible faces of the rocks between two depths [cm], the furthest rock first."""
    found = []
    away = (-math.sin(angle), math.cos(angle))
    rocks = sorted(tank.scene_rocks(), key=lambda r: -(r.x_cm * away[0] + r.y_cm * away[1]))
    for rock in rocks:
        upper, lower = max(rock.depth_cm, top_cm), min(rock.depth_cm + rock.height_cm, bottom_cm)
        if upper >= lower:
            continue
        corner = np.array([rock.x_cm, rock.y_cm, upper])
        corners = corner + CORNERS * (rock.length_cm, rock.width_cm, lower - upper)
        for side, way in zip(SIDES, SIDE_WAYS, strict=True):
            if facing(angle, way):
                found.append((slant.path(corners[list(side)]), "side"))
        found.append((slant.path(corners[list(TOP)]), "top"))
    return tuple(found)


def pin_at(slant, number, pin, tank):
    """Return the BoxPin of a Pin."""
    foot = (pin.x_cm, pin.y_cm, tank.depth_cm)
    (x, y), (foot_x, foot_y) = slant.at([(pin.x_cm, pin.y_cm, pin.depth_cm), foot])
    start = min(y + PIN_RADIUS, foot_y)
    return BoxPin(
        Dot(tenth(x), tenth(y), True, str(number)),
        f"M{x:.1f} {start:.1f}L{foot_x:.1f} {foot_y:.1f}",
    )


def face_of(fixture):
    """Return the corners (4, 3) of a fixture's lit face [cm]; above the water is negative."""
    return np.array([(x, y, -height) for x, y, height in hung_corners_cm(fixture)])


def drop_of(face):
    """Return the plumb line (2, 3) from the middle of a face down to the water [cm]."""
    middle = face.mean(axis=0)
    return np.array([middle, (middle[0], middle[1], 0.0)])
