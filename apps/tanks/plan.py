"""The tank from above, as numbers a template can draw."""

from dataclasses import dataclass

from apps.common.registry import Registry

# The drawing is this wide or this high at most, in its own units: text keeps its size.
WIDE, HIGH = 400.0, 280.0
EDGE = 6.0
FOOT = 26.0


@dataclass(frozen=True)
class PlanBox:
    """One rock in the drawing; the label stands in its middle."""

    x: float
    y: float
    wide: float
    high: float
    mid_x: float
    mid_y: float
    number: int
    name: str


@dataclass(frozen=True)
class Overhead:
    """A thing above the water: its name, and the corners of its outline, (x, y) each [cm]."""

    name: str
    corners_cm: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class OverheadShape:
    """An outline in the drawing."""

    points: str
    name: str


@dataclass(frozen=True)
class TankPlan:
    wide: float
    high: float
    box_wide: float
    box_high: float
    edge: float
    outline: str  # corners of the water, "x,y x,y"
    braces: tuple
    mid_x: float
    front_y: float
    back_dark: bool
    dark_path: str  # along the dark panes of a tank that is no box
    rocks: tuple
    overhead: tuple = ()


# What apps above hang over the tank: provider(tank, moment) returns Overheads.
OVERHEAD: Registry[Overhead] = Registry()


def overhead_of(tank, moment):
    """Return all Overheads of a tank at a moment."""
    return OVERHEAD.collect(tank, moment)


def tank_plan(tank, rocks, overhead=()):
    """Return the plan of a tank with its rocks; the front pane is at the foot of the drawing."""
    scale = min(WIDE / tank.length_cm, HIGH / tank.width_cm)
    box_wide, box_high = tank.length_cm * scale, tank.width_cm * scale
    return TankPlan(
        wide=round(box_wide + 2 * EDGE, 1),
        high=round(box_high + 2 * EDGE + FOOT, 1),
        box_wide=round(box_wide, 1),
        box_high=round(box_high, 1),
        edge=EDGE,
        outline=_points(tank, tank.scene().rim.corners_cm, scale),
        braces=tuple(_brace(tank, brace, scale) for brace in tank.scene().braces),
        mid_x=round(EDGE + box_wide / 2, 1),
        front_y=round(box_high + 2 * EDGE + FOOT / 2, 1),
        back_dark=tank.back_pane == tank.BackPane.DARK,
        dark_path=_dark_path(tank, scale),
        rocks=tuple(_box(tank, rock, n, scale) for n, rock in enumerate(rocks, start=1)),
        overhead=tuple(_shape(tank, thing, scale) for thing in overhead),
    )


def _shape(tank, thing, scale):
    return OverheadShape(_points(tank, thing.corners_cm, scale), thing.name)


def _points(tank, corners_cm, scale):
    places = ((EDGE + x * scale, EDGE + (tank.width_cm - y) * scale) for x, y in corners_cm)
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in places)


def _dark_path(tank, scale):
    """Return the path along the panes that a dark back means; empty for a box or a clear back."""
    box = tank.scene()
    if box.is_box or box.back_pane != "dark":
        return ""
    facing = box.rim.facing("back")
    panes = zip(box.rim.begins[facing], box.rim.ends[facing], strict=True)
    lines = (_points(tank, pane, scale).replace(" ", "L") for pane in panes)
    return "".join(f"M{line}" for line in lines)


def _brace(tank, brace, scale):
    x, y = brace.x_cm, brace.y_cm
    right, back = x + brace.length_cm, y + brace.width_cm
    return _points(tank, ((x, y), (right, y), (right, back), (x, back)), scale)


def _box(tank, rock, number, scale):
    x = EDGE + rock.x_cm * scale
    # The page counts downward from the back pane, the tank from the front pane.
    y = EDGE + (tank.width_cm - rock.y_cm - rock.width_cm) * scale
    wide, high = rock.length_cm * scale, rock.width_cm * scale
    return PlanBox(
        x=round(x, 1),
        y=round(y, 1),
        wide=round(wide, 1),
        high=round(high, 1),
        mid_x=round(x + wide / 2, 1),
        mid_y=round(y + high / 2, 1),
        number=number,
        name=rock.name,
    )
