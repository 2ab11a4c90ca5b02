"""The plan, the front and the side view on which hanging fixtures are placed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import ConvexHull

from apps.drawing.marks import polygon_points
from apps.lighting import models
from apps.lighting.models import HungFixture
from apps.photics.ground.arrays import ArrayLike, FloatArray
from apps.photics.ground.lengths import UNIT_WORDS
from apps.photics.ground.scene import Fixture
from apps.photics.limits import TILT_MAX_DEG
from apps.photics.optics.lit_face import aimed_at_cm, hung_corners_cm
from apps.tanks.models import Tank

# Room beside the tank for fixtures that hang past its rim, of each side [1].
BESIDE = 0.15
# The views from the sides show at least this much air above the water [cm], and this above the
# highest fixture, for its label, of the drawing's width [1].
AIR_CM, OVER = 40.0, 0.1
# How thick a fixture is drawn from the sides, of the tank's length [1].
THICK = 0.02


@dataclass(frozen=True)
class Hanging:
    """One fixture in one view before anything is moved: outline, label, and its axis if tilted."""

    label: str
    name: str
    outline: str
    x: float
    y: float
    top: float  # where its label stands in the views from the sides
    axis: str  # a path from its middle to where it shines on the water; empty when level


@dataclass(frozen=True)
class View:
    """One view in cm, drawn downward: box, the water in it, and what hangs."""

    key: str  # "above", "front" or "side"
    title: str
    words: str
    box: str
    water_width: float
    water_height: float
    text_cm: float
    shift_cm: float  # of a label from a fixture's middle
    hanging: tuple[Hanging, ...] = ()
    water_points: str = ""  # the water's corners from above where it is no rectangle


@dataclass(frozen=True)
class RigDrawing:
    """All views of what hangs over a tank; `is_tilted` where one of them shines aside."""

    views: tuple[View, ...]
    length_cm: float
    width_cm: float
    air_cm: float
    thick_cm: float
    over_cm: float
    unit: str
    cm_per_unit: float
    tilt_most_deg: float
    is_tilted: bool


def rig_drawing(tank: Tank, hung: Sequence[HungFixture], *, unit: str) -> RigDrawing:
    """Return the RigDrawing of a tank and the HungFixtures over it."""
    length, width, depth = tank.length_cm, tank.width_cm, tank.depth_cm
    wide, thick = length * (1 + 2 * BESIDE), THICK * length
    fixtures = [(str(row.number), row.scene()) for row in hung]
    highest = [high for _, one in fixtures for _, _, high in hung_corners_cm(one)]
    air = max([AIR_CM, *(high + OVER * wide for high in highest)])
    return RigDrawing(
        views=tuple(
            replace(
                view,
                hanging=labelled_together(drawn(view.key, width, thick, *one) for one in fixtures),
                water_points=water_points(tank) if view.key == "above" else "",
            )
            for view in empty_views(length, width, depth, air)
        ),
        length_cm=length,
        width_cm=width,
        air_cm=air,
        thick_cm=round(thick, 2),
        over_cm=round(OVER * wide, 1),
        unit=unit,
        cm_per_unit=UNIT_WORDS[unit],
        tilt_most_deg=TILT_MAX_DEG,
        is_tilted=any(row.tilt_deg for row in hung),
    )


def water_points(tank: Tank) -> str:
    """Return the corners of the water seen from above, the front at the foot; none of a box."""
    scene = tank.scene()
    if scene.is_box:
        return ""
    return polygon_points([(x, tank.width_cm - y) for x, y in scene.rim.corners_cm])


def empty_views(length: float, width: float, depth: float, air: float) -> tuple[View, ...]:
    """Return the Views of a tank [cm], with so much air above it and nothing that hangs."""
    side_x, side_y = BESIDE * length, BESIDE * width
    wide, deep = length + 2 * side_x, width + 2 * side_y
    # Its box, what it shows across [cm], and the water in it.
    boxes = {
        "above": (f"{-side_x:g} {-side_y:g} {wide:g} {deep:g}", wide, (length, width)),
        "front": (f"{-side_x:g} {-air:g} {wide:g} {air + depth + 1:g}", wide, (length, depth)),
        "side": (f"{-side_y:g} {-air:g} {deep:g} {air + depth + 1:g}", deep, (width, depth)),
    }
    return tuple(
        View(
            key=key,
            title=title,
            words=words,
            box=boxes[key][0],
            water_width=boxes[key][2][0],
            water_height=boxes[key][2][1],
            text_cm=round(boxes[key][1] / 20, 2),
            shift_cm=round(boxes[key][1] / 58, 2),
        )
        for key, title, words in TITLES
    )


TITLES = (
    ("above", "From above, front pane at the foot", "The tank from above with its lamps"),
    ("front", "From the front", "The tank from the front with its lamps"),
    ("side", "Front pane to the right", "The tank from its left side"),
)


def flat(key: str, width_cm: float, places_cm: ArrayLike) -> FloatArray:
    """Return places (n, 3) of x, y and height [cm] as a view shows them, (n, 2)."""
    x, y, height = np.asarray(places_cm, float).reshape(-1, 3).T
    across = width_cm - y if key == "side" else x
    return np.column_stack([across, width_cm - y if key == "above" else -height])


def drawn(key: str, width_cm: float, thick_cm: float, label: str, fixture: Fixture) -> Hanging:
    """Return the Hanging of a photics Fixture in a view."""
    corners = flat(key, width_cm, hung_corners_cm(fixture))
    middle = (fixture.x_cm, fixture.y_cm, fixture.height_cm)
    aimed = (*aimed_at_cm(fixture), 0.0)
    (x, y), (to_x, to_y) = flat(key, width_cm, [middle, aimed])
    ring = outline(corners, key, thick_cm)
    axis = f"M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}" if fixture.tilt_deg else ""
    return Hanging(
        label=label,
        name=fixture.name,
        outline=" ".join(f"{a:.1f},{b:.1f}" for a, b in ring),
        x=round(float(x), 1),
        y=round(float(y), 1),
        top=round(float(ring[:, 1].min()), 1),
        axis=axis.replace("-0.0", "0.0"),
    )


def labelled_together(hanging: Iterable[Hanging]) -> tuple[Hanging, ...]:
    """Return the Hangings, of which the last at a spot carries the labels of all there."""
    hanging = tuple(hanging)
    spots: dict[tuple[float, float], list[Hanging]] = {}
    for one in hanging:
        spots.setdefault((one.x, one.y), []).append(one)
    labelled = []
    for one in hanging:
        there = spots[one.x, one.y]
        label = ", ".join(other.label for other in there) if one is there[-1] else ""
        labelled.append(replace(one, label=label, top=min(other.top for other in there)))
    return tuple(labelled)


def outline(corners: FloatArray, key: str, thick_cm: float) -> FloatArray:
    """Return the outline of a face (4, 2) in a view; from the sides it has a body above it."""
    if key == "above":
        return corners
    body = np.concatenate([corners, corners - (0.0, thick_cm)])
    return body[ConvexHull(body).vertices]


def lit_sizes(
    fixtures: Iterable[models.Fixture], hung: Iterable[HungFixture]
) -> dict[str, list[float]]:
    """Return {what a row chooses: [length, width] of the lit area in cm} for the page's script.

    A fixture that hangs keeps the size it was hung with: "library key#number" comes first.
    """
    sizes = {str(f.pk): [f.lit_length_cm, f.lit_width_cm] for f in fixtures}
    hanging = {
        f"{row.fixture_id or ''}#{row.number}": [row.lit_length_cm, row.lit_width_cm]
        for row in hung
    }
    return sizes | hanging
