"""What a tank is beyond a box: its outline, what lies over it and its window, read and checked.

The one place where their JSON is judged: forms, API and stored rows all end here.
"""

import math

from apps.photics import limits
from apps.photics.ground import scene
from apps.photics.ground.outline import Corner
from apps.photics.ground.shape import BOX, CORNERS_MOST, OUTLINE, shape_faults

BRACE_SIZES = ("x_cm", "y_cm", "length_cm", "width_cm")
BRACE_KEYS = (*BRACE_SIZES, "transmission")
# A brace may reach so far into the glass [cm]: chosen as its usual thickness.
INTO_GLASS_CM = 2.0


def is_number(value: object) -> bool:
    """Return whether a JSON value is a finite number."""
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def corners_of(value: object) -> tuple[Corner, ...] | None:
    """Return the corners [cm] that a JSON value lists, or None where it lists no such thing."""
    if not isinstance(value, list) or not all(
        isinstance(corner, list | tuple) and len(corner) == 2 and all(map(is_number, corner))
        for corner in value
    ):
        return None
    return tuple((float(x), float(y)) for x, y in value)


def shape_errors(tank) -> dict[str, str]:
    """Return {field: sentence} for what is wrong with a tank's shape, braces and window."""
    errors = outline_errors(tank)
    if problem := brace_problem(tank):
        errors["braces"] = problem
    if tank.window_side and tank.window_par_umol is None:
        errors["window_par_umol"] = "Say how much light the window gives, or choose no window."
    elif tank.window_side == "back" and tank.back_pane == tank.BackPane.DARK:
        errors["window_side"] = "No daylight comes in by a dark back."
    return errors


def outline_errors(tank) -> dict[str, str]:
    """Return {field: sentence} for what is wrong with the outline of a tank."""
    corners = corners_of(tank.outline_cm)
    if corners is None:
        return {"outline_cm": "Corners are a list of pairs: from the left, from the front [cm]."}
    if len(corners) > CORNERS_MOST:
        return {"outline_cm": f"At most {CORNERS_MOST} corners."}
    if None in (tank.length_cm, tank.width_cm):
        return {}
    if tank.shape == "cylinder" and abs(tank.length_cm - tank.width_cm) > 1.0:
        return {"width_cm": "A round tank is as wide as it is long."}
    faults = shape_faults(
        tank.shape,
        length_cm=tank.length_cm,
        width_cm=tank.width_cm,
        radius_cm=(tank.length_cm + tank.width_cm) / 4.0,
        bow_cm=tank.bow_cm,
        outline_cm=corners,
    )
    return {name: sentence(cause) for name, cause in faults.items()}


def sentence(cause: str) -> str:
    """Return a cause as a sentence."""
    return f"{cause[0].upper()}{cause[1:]}."


def brace_problem(tank) -> str | None:
    """Return the sentence on what is wrong with a tank's braces, or None."""
    braces = tank.braces
    if not isinstance(braces, list) or not all(isinstance(brace, dict) for brace in braces):
        return "Braces are a list of objects."
    if len(braces) > limits.BRACES_MAX:
        return f"At most {limits.BRACES_MAX} braces."
    for number, brace in enumerate(braces, start=1):
        if set(brace) != set(BRACE_KEYS) or not all(map(is_number, brace.values())):
            return f"Brace {number}: give the numbers {', '.join(BRACE_KEYS)}."
        if not 0 <= brace["transmission"] <= 1:
            return f"Brace {number}: it passes 0 to 100 % of the light."
        if problem := brace_place_problem(tank, brace):
            return f"Brace {number}: {problem}"
    return None


def brace_place_problem(tank, brace: dict[str, float]) -> str | None:
    """Return what is wrong with where one brace lies, or None."""
    if min(brace["x_cm"], brace["y_cm"]) < 0:
        return "it begins outside the tank."
    if min(brace["length_cm"], brace["width_cm"]) < limits.BRACE_SIDE_MIN_CM:
        return f"each side is at least {limits.BRACE_SIDE_MIN_CM:g} cm."
    for begin, size, side in (
        ("x_cm", "length_cm", tank.length_cm),
        ("y_cm", "width_cm", tank.width_cm),
    ):
        if side is not None and brace[begin] + brace[size] > side + INTO_GLASS_CM:
            return f"it ends at {brace[begin] + brace[size]:g} cm, and the tank at {side:g} cm."
    return None


def scene_of(tank) -> scene.Tank:
    """Return a sound tank as photics knows it."""
    window = None
    if tank.window_side and tank.window_par_umol:
        window = scene.Window(tank.window_side, tank.window_par_umol)
    corners = corners_of(tank.outline_cm) if tank.shape == OUTLINE else ()
    return scene.Tank(
        length_cm=tank.length_cm,
        width_cm=tank.width_cm,
        depth_cm=tank.depth_cm,
        back_pane=tank.back_pane,
        bottom=tank.bottom,
        shape=tank.shape,
        bow_cm=(tank.bow_cm or 0.0) if tank.shape == "bow" else 0.0,
        outline_cm=corners or (),
        braces=tuple(scene.Brace(**brace) for brace in tank.braces),
        cover_transmission=tank.cover_transmission,
        window=window,
    )


def is_plain(tank) -> bool:
    """Return whether a tank is a box that nothing covers and no window lights."""
    return (
        tank.shape == BOX
        and not tank.braces
        and tank.cover_transmission == 1
        and not tank.window_side
    )
