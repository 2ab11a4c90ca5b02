"""The zones of a question drawn over its own tank: from above and from the front, to be dragged."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.drawing.marks import polygon_points, tenth
from apps.photics.ground.scene import Rock, Tank
from apps.photics.layout.question import Zone

# Both views are as wide in their own units, so that a length across is the same on both; a very
# tall one is drawn smaller.
WIDTH, EDGE, HIGH_MOST = 360.0, 10.0, 300.0
# How many strokes zones are told apart by (css/planning/plans.css).
STROKES = 6
# Room around a number in a corner, in drawing units.
NUMBER_X, NUMBER_Y = 9.0, 14.0
# Zones often lie in each other with their corners close: one number stands at the left, the next
# at the right, the third in the middle.
NUMBER_PLACES = (0.0, 1.0, 0.5)


@dataclass(frozen=True)
class DrawnBox:
    """A rectangle of a view, in its units."""

    x: str
    y: str
    width: str
    height: str

    @property
    def area(self) -> float:
        """Return how much of the view it takes [squared drawing units]."""
        return float(self.width) * float(self.height)


@dataclass(frozen=True)
class DrawnZone:
    """A zone on a view: which row it is of, its rectangle, and where its number stands."""

    number: int
    stroke: int
    name: str
    box: DrawnBox
    number_x: str
    number_dx: str
    number_y: str


@dataclass(frozen=True)
class ZoneView:
    """One view of the tank with its zones; `stage` is what a script needs to drag them."""

    name: str
    view_box: str
    water: DrawnBox
    water_points: str
    rocks: tuple[DrawnBox, ...]
    zones: tuple[DrawnZone, ...]
    stage: dict[str, object]


@dataclass(frozen=True)
class Stage:
    """Where lengths of a tank lie on a view: across, and up (`upward`) or down."""

    side_cm: float
    high_cm: float
    upward: bool

    @property
    def scale(self) -> float:
        """Return drawing units for a cm."""
        return min((WIDTH - 2 * EDGE) / self.side_cm, HIGH_MOST / self.high_cm)

    @property
    def left(self) -> float:
        """Return the place of the tank's left end."""
        return (WIDTH - self.scale * self.side_cm) / 2

    def box(self, x_cm: tuple[float, float], down_cm: tuple[float, float]) -> DrawnBox:
        """Return the rectangle of two ranges [cm]."""
        top = self.high_cm - down_cm[1] if self.upward else down_cm[0]
        return DrawnBox(
            tenth(self.left + x_cm[0] * self.scale), tenth(EDGE + top * self.scale),
            tenth((x_cm[1] - x_cm[0]) * self.scale), tenth((down_cm[1] - down_cm[0]) * self.scale),
        )  # fmt: skip

    def place(self, x_cm: float, down_cm: float) -> tuple[float, float]:
        """Return the place of a point [cm]."""
        top = self.high_cm - down_cm if self.upward else down_cm
        return self.left + x_cm * self.scale, EDGE + top * self.scale


def draw_zones(
    tank: Tank, zones: Sequence[tuple[int, Zone]], rocks: Sequence[Rock] = ()
) -> tuple[ZoneView, ZoneView]:
    """Return the views from above and from the front; each zone comes with its row's number."""
    above = Stage(tank.length_cm, tank.width_cm, upward=True)
    front = Stage(tank.length_cm, tank.depth_cm, upward=False)
    outline = "" if tank.is_box else polygon_points(
        [above.place(x, y) for x, y in tank.rim.corners_cm]
    )  # fmt: skip
    return (
        view_of("above", above, "y", zones, rocks, outline),
        view_of("front", front, "depth", zones, rocks, ""),
    )


def number_dx(number: int, box: DrawnBox) -> str:
    """Return how far to the right of its corner a number stands, within its zone."""
    free = max(0.0, float(box.width) - 2 * NUMBER_X)
    return tenth(free * NUMBER_PLACES[(number - 1) % len(NUMBER_PLACES)])


def view_of(
    name: str,
    stage: Stage,
    down: str,
    zones: Sequence[tuple[int, Zone]],
    rocks: Sequence[Rock],
    outline: str,
) -> ZoneView:
    """Return one ZoneView; `down` is its second axis, "y" or "depth"."""
    drawn = []
    boxes = [
        (number, zone, stage.box(zone.x_cm, zone.y_cm if down == "y" else zone.depth_cm))
        for number, zone in zones
    ]
    # The smallest on top: it could not be grasped below another.
    for number, zone, box in sorted(boxes, key=lambda one: -one[2].area):
        drawn.append(
            DrawnZone(
                number, number % STROKES, zone.name, box,
                tenth(float(box.x) + NUMBER_X), number_dx(number, box),
                tenth(float(box.y) + NUMBER_Y),
            )
        )  # fmt: skip
    return ZoneView(
        name=name,
        view_box=f"0 0 {WIDTH:.0f} {2 * EDGE + stage.high_cm * stage.scale:.0f}",
        water=stage.box((0.0, stage.side_cm), (0.0, stage.high_cm)),
        water_points=outline,
        rocks=tuple(rock_box(stage, rock, down) for rock in rocks),
        zones=tuple(drawn),
        stage={
            "left": stage.left, "top": EDGE, "scale": stage.scale, "down": down,
            "sideCm": stage.side_cm, "highCm": stage.high_cm, "upward": stage.upward,
            "numberX": NUMBER_X, "numberY": NUMBER_Y,
        },
    )  # fmt: skip


def rock_box(stage: Stage, rock: Rock, down: str) -> DrawnBox:
    """Return the outline of a rock on a view."""
    x = (rock.x_cm, rock.x_cm + rock.length_cm)
    if down == "y":
        return stage.box(x, (rock.y_cm, rock.y_cm + rock.width_cm))
    return stage.box(x, (rock.depth_cm, rock.depth_cm + rock.height_cm))
