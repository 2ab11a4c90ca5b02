"""The water seen from the front at a distance from the front pane, the surface on top."""

import numpy as np
from numpy.typing import NDArray

from apps.drawing.cut import NEAR_MIN_CM, NEAR_SHARE, Drawing, OnCut, Plane, Water, draw_cut
from apps.drawing.frame import Frame, frame_for
from apps.drawing.legend import Scale
from apps.photics.ground.estimate import SectionEstimate

# A section that only touches the water shows so much of it [cm]: chosen, so that there is a place.
NARROWEST_CM = 1.0


def section_frame(water: Water) -> Frame:
    """Return the Frame of a section."""
    return frame_for(water.length_cm, water.depth_cm)


def section_at(water: Water, y_cm: float) -> Frame:
    """Return the Frame of a section that stands at one y [cm]."""
    frame, tank = section_frame(water), water.scene()
    if tank.is_box:
        return frame
    left, right = (min(max(end, 0.0), water.length_cm) for end in tank.rim.across_cm(y_cm=y_cm))
    if right - left < NARROWEST_CM:
        left, right = (left + right - NARROWEST_CM) / 2, (left + right + NARROWEST_CM) / 2
    deep = water.depth_cm
    return frame.within([(left, 0.0), (right, 0.0), (right, deep), (left, deep)])


def section_rocks(water: Water, frame: Frame) -> tuple[dict[str, str], ...]:
    """Return the rectangles of all rocks on a section, however far back they lie."""
    return tuple(
        frame.rectangle(rock.x_cm, rock.depth_cm, rock.length_cm, rock.height_cm)
        for rock in water.scene_rocks()
    )


def draw_section(
    cut: SectionEstimate,
    values: NDArray[np.float64],
    scale: Scale,
    water: Water,
    *,
    depth_cm: float,
    over: OnCut,
    unit: str,
    read: SectionEstimate | None = None,
) -> Drawing:
    """Return the Drawing of an upright cut; the plan beside it lies at depth_cm [cm].

    `read`: the cut whose nodes the read-out knows, where it is another.
    """
    near = max(NEAR_MIN_CM, NEAR_SHARE * water.width_cm)
    frame = section_at(water, cut.y_cm)
    plane = Plane(frame, "depth_cm", "y_cm", cut.y_cm, near, depth_cm)
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
