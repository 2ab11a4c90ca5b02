"""The shapes of tanks seen from above, in the frame of their bounding box."""

import math
from collections.abc import Sequence
from functools import lru_cache

from apps.photics.ground.outline import (
    Corner,
    Outline,
    crosses_itself,
    is_convex,
    outline_through,
    signed_area_cm2,
    tangent_corners,
)

BOX, CYLINDER, BOW, OUTLINE = "box", "cylinder", "bow", "outline"
SHAPES = (BOX, CYLINDER, BOW, OUTLINE)
# A curved pane mirrors as flat ones that bend by at most so much from one to the next [degrees].
# Chosen by the photon tracer: under a round lamp of 14 cm over a cylinder of 54 cm the light of
# 300 places is off by 1.5 % in the middle and 8.2 % for one in ten by 12 degrees, 0.9 and 3.0 by
# 6, 0.75 and 2.0 by 4; in a box it is 0.7 and 2.0.
FACET_DEG = 5.0
# The same for light from the bottom, which is even [degrees]: chosen, because it is a small part.
EVEN_DEG = 15.0
# The same where a curved pane only bounds the water, and where it is drawn [degrees]: chosen,
# because that is off a circle of 50 cm by 0.2 mm.
RIM_DEG = 3.0
# How far a stated size may be from what the others say [cm]: chosen, because glass is measured to
# half a centimetre.
FIT_CM = 0.5
CORNERS_LEAST, CORNERS_MOST = 3, 40
# No pane is shorter [cm]: chosen, because nobody glues one.
PANE_LEAST_CM = 0.5


def shape_faults(
    shape: str,
    *,
    length_cm: float,
    width_cm: float,
    radius_cm: float | None,
    bow_cm: float | None,
    outline_cm: Sequence[Corner] | None,
) -> dict[str, str]:
    """Return what is wrong with a shape by the name of the value, empty where it can be modelled.

    `length_cm` and `width_cm` of the bounding box; `radius_cm` of a cylinder, `bow_cm` of a bow
    front, `outline_cm` the corners of an outline, None where not stated [cm].
    """
    if shape == CYLINDER:
        if radius_cm is None:
            return {"radius_cm": "a cylinder needs its radius"}
        if max(abs(2.0 * radius_cm - side) for side in (length_cm, width_cm)) > FIT_CM:
            return {
                "radius_cm": f"a cylinder of radius {radius_cm:g} cm is {2 * radius_cm:g} cm long "
                f"and wide, not {length_cm:g} by {width_cm:g} cm"
            }
    elif shape == BOW:
        if bow_cm is None:
            return {"bow_cm": "a bow front needs how far it bulges"}
        most = min(length_cm / 2.0, width_cm - PANE_LEAST_CM)
        if not 0.0 < bow_cm <= most:
            return {
                "bow_cm": f"a front {length_cm:g} cm long of a tank {width_cm:g} cm wide bulges by "
                f"more than 0 and at most {most:g} cm, not {bow_cm:g} cm"
            }
    elif shape == OUTLINE:
        fault = outline_fault(outline_cm or (), length_cm=length_cm, width_cm=width_cm)
        return {"outline_cm": fault} if fault else {}
    return {}


def outline_fault(outline_cm: Sequence[Corner], *, length_cm: float, width_cm: float) -> str | None:
    """Return what is wrong with an outline in its bounding box, None where it can be modelled."""
    many = len(outline_cm)
    if not CORNERS_LEAST <= many <= CORNERS_MOST:
        return f"an outline has {CORNERS_LEAST} to {CORNERS_MOST} corners, not {many}"
    corners = [(float(x), float(y)) for x, y in outline_cm]
    if crosses_itself(corners):
        return "the outline crosses or touches itself"
    if any(math.dist(corners[k - 1], corners[k]) < PANE_LEAST_CM for k in range(many)):
        return f"two corners are closer than {PANE_LEAST_CM:g} cm"
    for axis, (name, size) in enumerate((("length_cm", length_cm), ("width_cm", width_cm))):
        ends = [corner[axis] for corner in corners]
        if abs(min(ends)) > FIT_CM or abs(max(ends) - size) > FIT_CM:
            return (
                f"the outline reaches from {min(ends):g} to {max(ends):g} cm along {'xy'[axis]}; "
                f"it must reach from 0 to {name}, {size:g} cm"
            )
    if not is_convex(corners):
        return "the outline bends inward; only tanks without inward corners can be modelled"
    if abs(signed_area_cm2(corners)) < PANE_LEAST_CM**2:
        return "the outline holds no water"
    return None


@lru_cache(maxsize=256)
def shape_outline(
    shape: str,
    *,
    length_cm: float,
    width_cm: float,
    bow_cm: float = 0.0,
    outline_cm: tuple[Corner, ...] = (),
    facet_deg: float = FACET_DEG,
) -> Outline:
    """Return the Outline of a shape that has no faults; a curved pane as tangent flat ones.

    `shape` one of SHAPES, sizes of the bounding box and what the shape needs [cm]; `facet_deg` how
    much a curved pane bends from one flat one to the next at most [degrees].
    """
    if shape == CYLINDER:
        # Half the bounding box, so that a radius off by a millimetre leaves no gap.
        return round_outline(length_cm, width_cm=width_cm, facet_deg=facet_deg)
    if shape == BOW:
        half = math.atan2(2.0 * bow_cm, length_cm) * 2.0
        radius = (length_cm**2 / 4.0 + bow_cm**2) / (2.0 * bow_cm)
        down = -math.pi / 2.0
        front = tangent_corners(
            (length_cm / 2.0, radius),
            radius_cm=radius,
            from_rad=down - half,
            to_rad=down + half,
            facets=max(2, math.ceil(math.degrees(2.0 * half) / facet_deg)),
        )
        return outline_through([*front, (length_cm, width_cm), (0.0, width_cm)])
    if shape == OUTLINE:
        return outline_through(outline_cm)
    box = [(0.0, 0.0), (length_cm, 0.0), (length_cm, width_cm), (0.0, width_cm)]
    return outline_through(box)


def round_outline(length_cm: float, *, width_cm: float, facet_deg: float) -> Outline:
    """Return the Outline of a round tank that fills a box, by panes that touch it [cm]."""
    facets = math.ceil(360.0 / facet_deg)
    step = 2.0 * math.pi / facets
    wide, deep = (side / 2.0 / math.cos(step / 2.0) for side in (length_cm, width_cm))
    turns = [(k + 0.5) * step for k in range(facets)]
    return outline_through(
        [
            (length_cm / 2.0 + wide * math.cos(turn), width_cm / 2.0 + deep * math.sin(turn))
            for turn in turns
        ]
    )


def shape_area_cm2(
    shape: str,
    *,
    length_cm: float,
    width_cm: float,
    bow_cm: float = 0.0,
    outline_cm: tuple[Corner, ...] = (),
) -> float:
    """Return the area of a shape seen from above; arguments as `shape_outline` [cm2].

    Plane geometry; a bow front is a segment of a circle.
    """
    if shape == CYLINDER:
        return math.pi * length_cm * width_cm / 4.0
    if shape == BOW:
        half = math.atan2(2.0 * bow_cm, length_cm) * 2.0
        radius = (length_cm**2 / 4.0 + bow_cm**2) / (2.0 * bow_cm)
        bulge = radius**2 * (half - math.sin(half) * math.cos(half))
        return length_cm * (width_cm - bow_cm) + bulge
    if shape == OUTLINE:
        return abs(signed_area_cm2(outline_cm))
    return length_cm * width_cm
