"""What a keeper can state of a tank: the box of water, the fixtures above it, the rocks in it."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray
from apps.photics.ground.measured_optic import MeasuredOptic


@dataclass(frozen=True)
class Tank:
    """A glass box of water, inside measures [cm].

    The frame of every point: origin at the front-left corner of the water surface, x along the
    length, y from front to back, depth downward.
    """

    length_cm: float
    width_cm: float
    depth_cm: float
    back_pane: str = "clear"  # "clear" mirrors the light inside the water, "dark" swallows it
    bottom: str = "bare"  # "bare" or "sand"


@dataclass(frozen=True)
class Fixture:
    """One thing that shines, as the keeper measured it.

    Position is the middle of the lit face [cm], height is above the water [cm], the beam is the
    full width at half maximum [degrees]; the lit face is panel_x_cm by panel_y_cm before it is
    turned by turn_deg about the vertical and then tilted by tilt_deg about its own length, above
    zero so that it shines to the back when not turned. The level is a share of full output [1].
    `optic` is what it was measured to send for 1 of its beam's model intensity, None for that
    alone.
    """

    x_cm: float
    y_cm: float
    height_cm: float
    beam_deg: float
    panel_x_cm: float
    panel_y_cm: float
    kind: str = "panel"  # "puck", "panel", "tube" or "bar"
    level: float = 1.0
    turn_deg: float = 0.0
    name: str = ""
    tilt_deg: float = 0.0
    optic: MeasuredOptic | None = None


@dataclass(frozen=True)
class Rock:
    """A box that swallows light: its front-left-top corner and its sizes [cm].

    It extends right (length), back (width) and down (height).
    """

    x_cm: float
    y_cm: float
    depth_cm: float
    length_cm: float
    width_cm: float
    height_cm: float

    def holds(self, x_cm: ArrayLike, y_cm: ArrayLike, depth_cm: ArrayLike) -> BoolArray:
        """Return whether points lie within the rock, of the shape of the arguments together.

        `x_cm`, `y_cm`, `depth_cm` in the tank's frame, scalars or arrays that broadcast [cm].

        Its faces are water: a coral sits on them.
        """
        x, y, depth = (np.asarray(part) for part in (x_cm, y_cm, depth_cm))
        inside: BoolArray = (
            (x > self.x_cm)
            & (x < self.x_cm + self.length_cm)
            & (y > self.y_cm)
            & (y < self.y_cm + self.width_cm)
            & (depth > self.depth_cm)
            & (depth < self.depth_cm + self.height_cm)
        )
        return inside


def in_rock(
    rocks: Iterable[Rock], x_cm: ArrayLike, y_cm: ArrayLike, depth_cm: ArrayLike
) -> BoolArray:
    """Return whether points lie within any of the rocks, of the shape of the arguments together.

    `x_cm`, `y_cm`, `depth_cm` in the tank's frame, scalars or arrays that broadcast [cm].
    """
    inside = np.zeros(np.broadcast(x_cm, y_cm, depth_cm).shape, bool)
    for rock in rocks:
        inside |= rock.holds(x_cm, y_cm, depth_cm)
    return inside
