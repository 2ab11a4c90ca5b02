"""What a tank file tells of a tank that is more than a box: read with a line for every fault.

`shape` is "box" (default), "cylinder" with radius_cm, "bow" with bow_cm (how far the middle of the
front is before its ends) or "outline" with outline_cm, the corners [[x, y], ...] in order.
`braces` is a list of x_cm, y_cm, length_cm, width_cm and transmission (0 to 1), `overflow` a box as
a rock is, `cover_transmission` the share of light a lid or screen passes, `window` a side ("front",
"back", "left", "right") and the par_umol that daylight gives just inside the middle of it. The
frame's corner is that of the bounding box, and length_cm and width_cm are its sides.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from apps.lightmap.tank_json import Bounds, Finder, Record, is_number
from apps.photics import limits
from apps.photics.ground.outline import SIDES, Corner
from apps.photics.ground.scene import Brace, Rock, Tank, Window
from apps.photics.ground.shape import BOW, BOX, CYLINDER, OUTLINE, SHAPES, shape_faults
from apps.tanks.shape.checking import INTO_GLASS_CM

# The key that goes with each shape.
OWN_KEY = {CYLINDER: "radius_cm", BOW: "bow_cm", OUTLINE: "outline_cm"}
ANY_SIDE = (0.0, limits.TANK_SIDE_MAX_CM)
BRACE_BOUNDS = {
    "x_cm": ANY_SIDE,
    "y_cm": ANY_SIDE,
    "length_cm": (limits.BRACE_SIDE_MIN_CM, limits.TANK_SIDE_MAX_CM),
    "width_cm": (limits.BRACE_SIDE_MIN_CM, limits.TANK_SIDE_MAX_CM),
    "transmission": (0.0, 1.0),
}


def with_sides(box: Record) -> Record:
    """Return a tank's JSON object with the sides of the bounding box where the shape tells them."""
    sides: Record = {}
    radius, corners = box.get("radius_cm"), corners_of(box.get("outline_cm"))
    if box.get("shape") == CYLINDER and is_number(radius):
        sides = dict.fromkeys(("length_cm", "width_cm"), 2.0 * float(str(radius)))
    elif box.get("shape") == OUTLINE and corners:
        sides = {
            "length_cm": max(x for x, _ in corners), "width_cm": max(y for _, y in corners)
        }  # fmt: skip
    return sides | {key: value for key, value in box.items() if value is not None}


def shaped(tank: Tank, finder: Finder, box: Record, rock_bounds: Mapping[str, Bounds]) -> Tank:
    """Return a Tank with all that a tank file tells beyond its box; raises FieldFileError."""
    shape = finder.word(box, "shape", SHAPES, default=BOX)
    for other, key in OWN_KEY.items():
        if other != shape and key in box:
            raise finder.fault(f'{key} is told, but shape is "{shape}" and not "{other}"', key)
    any_cm = (0.0, limits.TANK_SIDE_MAX_CM)
    radius = finder.number(box, "radius_cm", any_cm) if shape == CYLINDER else None
    bow = finder.number(box, "bow_cm", any_cm) if shape == BOW else None
    corners = read_corners(finder, box) if shape == OUTLINE else ()
    faults = shape_faults(
        shape,
        length_cm=tank.length_cm,
        width_cm=tank.width_cm,
        radius_cm=radius,
        bow_cm=bow,
        outline_cm=corners,
    )
    for key, cause in faults.items():
        raise finder.fault(f"{key}: {cause}", key)
    cover = (limits.COVER_TRANSMISSION_MIN, 1.0)
    braces = finder.records(box, "braces")
    return replace(
        tank,
        shape=shape,
        bow_cm=bow or 0.0,
        outline_cm=corners,
        braces=tuple(read_brace(finder, item, k, tank) for k, item in enumerate(braces)),
        overflow=read_overflow(finder, box, tank, rock_bounds),
        cover_transmission=finder.number(box, "cover_transmission", cover, default=1.0),
        window=read_window(finder, box),
    )


def corners_of(value: object) -> tuple[Corner, ...]:
    """Return the corners [cm] that a JSON value lists as pairs of numbers, none if it does not."""
    if not isinstance(value, list) or not all(
        isinstance(corner, list) and len(corner) == 2 and all(map(is_number, corner))
        for corner in value
    ):
        return ()
    return tuple((float(x), float(y)) for x, y in value)


def read_corners(finder: Finder, box: Record) -> tuple[Corner, ...]:
    """Return the corners of an outline, (x, y) each [cm]."""
    if box.get("outline_cm") is None:
        raise finder.fault('outline_cm is missing: shape "outline" needs its corners', "shape")
    corners = corners_of(box["outline_cm"])
    if not corners:
        raise finder.fault("outline_cm must be a list of corners [x, y] in cm", "outline_cm")
    return corners


def read_brace(finder: Finder, record: Record, k: int, tank: Tank) -> Brace:
    """Return the k-th Brace from its JSON object."""
    placed = {
        key: finder.number(record, key, limit, who=f"brace {k + 1}: ", within="braces", nth=k)
        for key, limit in BRACE_BOUNDS.items()
    }
    for begin, size, side in (
        ("x_cm", "length_cm", tank.length_cm),
        ("y_cm", "width_cm", tank.width_cm),
    ):
        end = placed[begin] + placed[size]
        if end > side + INTO_GLASS_CM:
            cause = f"brace {k + 1}: {begin} and {size} end at {end:g}; the tank ends at {side:g}"
            raise finder.fault(cause, size, within="braces", nth=k)
    return Brace(**placed)


def read_overflow(
    finder: Finder, box: Record, tank: Tank, rock_bounds: Mapping[str, Bounds]
) -> Rock | None:
    """Return the overflow as a Rock, or None where there is none."""
    record = box.get("overflow")
    if record is None:
        return None
    if not isinstance(record, dict):
        raise finder.fault("overflow must be one object with the keys of a rock", "overflow")
    overflow = Rock(
        **{
            key: finder.number(record, key, limit, who="overflow: ", within="overflow")
            for key, limit in rock_bounds.items()
        }
    )
    if (
        overflow.x_cm >= tank.length_cm
        or overflow.y_cm >= tank.width_cm
        or overflow.depth_cm >= tank.depth_cm
        or overflow.x_cm + overflow.length_cm <= 0
        or overflow.y_cm + overflow.width_cm <= 0
    ):
        raise finder.fault("overflow: lies outside the tank", "overflow")
    return overflow


def read_window(finder: Finder, box: Record) -> Window | None:
    """Return the Window, or None where there is none."""
    record = box.get("window")
    if record is None:
        return None
    if not isinstance(record, dict):
        raise finder.fault("window must be one object with side and par_umol", "window")
    side = finder.word(record, "side", tuple(SIDES), who="window: ", default="", within="window")
    if side == "back" and box.get("back_wall") in ("black", "dark"):
        raise finder.fault("window: no daylight comes in by a black back", "side", within="window")
    bounds = (limits.WINDOW_PAR_MIN_UMOL, limits.WINDOW_PAR_MAX_UMOL)
    par = finder.number(record, "par_umol", bounds, who="window: ", within="window")
    return Window(side, par)


def place_fault(tank: Tank, place_cm: Sequence[float], *, outside_cm: float) -> str | None:
    """Return why a place x, y, depth [cm] holds no water by more than `outside_cm`, or None."""
    x, y, depth = place_cm
    if not tank.is_box and tank.rim.inside_cm(x, y) < -outside_cm:
        return f"x_cm, y_cm is {x:g}, {y:g}, outside the {tank.shape} of the tank"
    if tank.overflow is not None:
        box = tank.overflow
        smaller = Rock(
            x_cm=box.x_cm + outside_cm,
            y_cm=box.y_cm + outside_cm,
            depth_cm=box.depth_cm + outside_cm,
            length_cm=box.length_cm - 2.0 * outside_cm,
            width_cm=box.width_cm - 2.0 * outside_cm,
            height_cm=box.height_cm - 2.0 * outside_cm,
        )
        if smaller.holds(x, y, depth):
            return f"x_cm, y_cm, depth_cm is {x:g}, {y:g}, {depth:g}, in the overflow"
    return None
