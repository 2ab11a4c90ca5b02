"""The water seen from above at a depth, the front pane at the foot."""

import numpy as np
from numpy.typing import NDArray

from apps.drawing.cut import NEAR_MIN_CM, NEAR_SHARE, Drawing, OnCut, Plane, Water, draw_cut
from apps.drawing.frame import Frame, frame_for
from apps.drawing.legend import Scale
from apps.photics.ground.estimate import GridEstimate


def plan_frame(water: Water) -> Frame:
    """Return the Frame of a plan."""
    frame = frame_for(water.length_cm, water.width_cm, upward=True)
    tank = water.scene()
    return frame if tank.is_box else frame.within(tank.rim.corners_cm)


def plan_rocks(water: Water, frame: Frame) -> tuple[dict[str, str], ...]:
    """Return the rectangles of all rocks on a plan, however deep they lie."""
    return tuple(
        frame.rectangle(rock.x_cm, rock.y_cm, rock.length_cm, rock.width_cm)
        for rock in water.scene_rocks()
    )


def draw_plan(
    cut: GridEstimate,
    values: NDArray[np.float64],
    scale: Scale,
    water: Water,
    *,
    y_cm: float,
    over: OnCut,
    unit: str,
    read: GridEstimate | None = None,
) -> Drawing:
    """Return the Drawing of a level cut; the section beside it stands at y_cm [cm].

    `read`: the cut whose nodes the read-out knows, where it is another.
    """
    near = max(NEAR_MIN_CM, NEAR_SHARE * water.depth_cm)
    plane = Plane(plan_frame(water), "y_cm", "depth_cm", cut.depth_cm, near, y_cm)
    return draw_cut(
        cut,
        values,
        scale,
        plane,
        rocks=water.scene_rocks(),
        braces=water.scene().braces,
        over=over,
        unit=unit,
        read=read,
    )
