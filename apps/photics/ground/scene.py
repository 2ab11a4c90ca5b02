"""What a keeper can state of a tank: the water, the fixtures above it, the rocks in it."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.outline import Corner, Outline
from apps.photics.ground.shape import (
    BOX,
    EVEN_DEG,
    FACET_DEG,
    OUTLINE,
    RIM_DEG,
    shape_area_cm2,
    shape_outline,
)


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


@dataclass(frozen=True)
class Brace:
    """A strip of glass or acrylic at the surface: its front-left corner and sides [cm].

    `transmission` is the share it passes of light that crosses the surface there [1].
    """

    x_cm: float
    y_cm: float
    length_cm: float
    width_cm: float
    transmission: float


@dataclass(frozen=True)
class Window:
    """Diffuse daylight through the panes that face one side.

    `par_umol` is the PAR it gives just inside the middle of that side at half depth, on a level
    sensor [umol m-2 s-1].
    """

    side: str  # "left", "right", "front" or "back"
    par_umol: float


@dataclass(frozen=True)
class Tank:
    """Water behind glass, inside measures [cm].

    The frame of every point: origin at the front-left corner of the bounding box at the water
    surface, x along the length, y from front to back, depth downward.
    """

    length_cm: float
    width_cm: float
    depth_cm: float
    back_pane: str = "clear"  # "clear" mirrors the light inside the water, "dark" swallows it
    bottom: str = "bare"  # "bare" or "sand"
    shape: str = BOX  # one of ground.shape.SHAPES
    bow_cm: float = 0.0  # of a bow front: how far its middle is before its ends
    outline_cm: tuple[Corner, ...] = ()  # corners of an outline
    braces: tuple[Brace, ...] = ()
    overflow: Rock | None = None  # a box that shades and holds no water of the tank
    cover_transmission: float = 1.0  # share a lid or screen passes of all light from above
    window: Window | None = None

    @property
    def is_box(self) -> bool:
        """Whether four panes at right angles bound the water."""
        return self.shape == BOX

    @cached_property
    def panes(self) -> Outline:
        """The panes that mirror the light, a curved one as flat ones."""
        return self.outline_by(FACET_DEG)

    @cached_property
    def even_panes(self) -> Outline:
        """The panes as even, diffuse light sees them."""
        return self.outline_by(EVEN_DEG)

    @cached_property
    def rim(self) -> Outline:
        """The outline of the water, a curved pane as closely as anybody measures it."""
        return self.outline_by(RIM_DEG)

    def outline_by(self, facet_deg: float) -> Outline:
        """Return the Outline whose curved panes bend by at most so much a facet [degrees]."""
        return shape_outline(
            self.shape,
            length_cm=self.length_cm,
            width_cm=self.width_cm,
            bow_cm=self.bow_cm,
            outline_cm=self.outline_cm if self.shape == OUTLINE else (),
            facet_deg=facet_deg,
        )

    @property
    def area_cm2(self) -> float:
        """The area of the water seen from above [cm2]."""
        return shape_area_cm2(
            self.shape,
            length_cm=self.length_cm,
            width_cm=self.width_cm,
            bow_cm=self.bow_cm,
            outline_cm=self.outline_cm,
        )

    def outside(self, x_cm: ArrayLike, y_cm: ArrayLike) -> BoolArray:
        """Return whether points of the bounding box lie outside the panes, in their shape.

        `x_cm` and `y_cm` in the tank's frame, scalars or arrays that broadcast [cm]. On a pane is
        inside. Of a box none is outside, however far its places are.
        """
        if self.is_box:
            return np.zeros(np.broadcast(x_cm, y_cm).shape, bool)
        return ~self.rim.holds(x_cm, y_cm)


# What shapes a beam: nothing, a lens, a reflector, a diffusing plate.
EMITTERS = ("bare", "lens", "reflector", "diffuser")


@dataclass(frozen=True)
class Fixture:
    """One thing that shines, as the keeper measured it.

    Position is the middle of the lit face [cm], height is above the water [cm], the beam is the
    full width at half maximum [degrees]; the lit face is panel_x_cm by panel_y_cm before it is
    turned by turn_deg about the vertical and then tilted by tilt_deg about its own length, above
    zero so that it shines to the back when not turned. The level is a share of full output [1].
    `optic` is what it was measured to send for 1 of its beam's model intensity, None for that
    alone. `emitter` is what shapes its beam, one of EMITTERS, "" where nobody said.
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
    emitter: str = ""


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


def solids(tank: Tank, rocks: Iterable[Rock]) -> tuple[Rock, ...]:
    """Return all boxes that shade and hold no water: the rocks and the tank's overflow."""
    return tuple(rocks) if tank.overflow is None else (*rocks, tank.overflow)


def out_of_water(
    tank: Tank,
    rocks: Iterable[Rock],
    x_cm: ArrayLike,
    y_cm: ArrayLike,
    depth_cm: ArrayLike,
) -> BoolArray:
    """Return whether points lie within rock, within the overflow or outside the panes.

    Of the shape of the arguments together, scalars or arrays that broadcast [cm].
    """
    out = in_rock(solids(tank, rocks), x_cm, y_cm, depth_cm)
    if not tank.is_box:
        out |= tank.outside(*np.broadcast_arrays(x_cm, y_cm, depth_cm)[:2])
    return out
