"""Where centimetres of the tank lie on a drawing: the frame of the plan and of the section."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from apps.drawing.marks import Mark, tenth
from apps.photics.ground.arrays import FloatOrArray
from apps.photics.ground.lengths import from_cm, to_cm
from apps.photics.ground.outline import outline_through

# The drawing's width in its own units; about the width of a phone in CSS pixels, so that the
# text sizes of the style sheet hold there.
DRAWING_WIDTH = 360.0
MARGIN_LEFT, MARGIN_RIGHT, MARGIN_TOP, MARGIN_BOTTOM = 30.0, 12.0, 20.0, 38.0
# A very long tank is drawn taller than true, a very deep one narrower than the page.
HEIGHT_MIN, HEIGHT_MAX = 96.0, 340.0
TICKS_MIN = 3
TICK_STEPS = (1, 2, 5)


@dataclass(frozen=True)
class Box:
    """A rectangle of the drawing that something already stands on."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, other: "Box") -> bool:
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.top <= other.top
            and other.bottom <= self.bottom
        )


@dataclass(frozen=True)
class Frame:
    """A rectangle of the drawing that shows across_cm by down_cm of the tank.

    `upward` when the second coordinate grows from the lower edge up, as y does in the plan.
    """

    across_cm: float
    down_cm: float
    left: float
    top: float
    width: float
    height: float
    upward: bool
    stretched: bool
    # Where the water of a tank that is no box ends on the drawing: its corners [cm], its edge and
    # all round it, as path data; empty where the water fills the frame.
    corners_cm: tuple[tuple[float, float], ...] = ()
    edge: str = ""
    dry: str = ""

    def within(self, corners_cm: Sequence[tuple[float, float]]) -> "Frame":
        """Return the Frame with the water inside a polygon of the shown axes alone [cm]."""
        places = [f"{self.x(across):.1f} {self.y(down):.1f}" for across, down in corners_cm]
        edge = f"M{'L'.join(places)}Z"
        ends = f"{self.left:.1f} {self.top:.1f}H{self.right:.1f}V{self.bottom:.1f}H{self.left:.1f}"
        return replace(self, corners_cm=tuple(corners_cm), edge=edge, dry=f"M{ends}Z{edge}")

    def is_wet(self, x: float, y: float) -> bool:
        """Return whether a place of the drawing lies in the water."""
        if not self.corners_cm:
            return True
        across = (x - self.left) / self.width * self.across_cm
        share = (y - self.top) / self.height
        down = (1.0 - share if self.upward else share) * self.down_cm
        return bool(outline_through(self.corners_cm).holds(across, down))

    def x(self, x_cm: FloatOrArray) -> FloatOrArray:
        """Return the drawing's x of a place or an array of places [cm]."""
        return self.left + x_cm / self.across_cm * self.width

    def y(self, y_cm: FloatOrArray) -> FloatOrArray:
        """Return the drawing's y of a place or an array of places [cm]."""
        share = y_cm / self.down_cm
        return self.top + (1.0 - share if self.upward else share) * self.height

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    @property
    def middle(self) -> float:
        return self.left + self.width / 2

    @property
    def view_box(self) -> str:
        return f"0 0 {DRAWING_WIDTH:.0f} {self.bottom + MARGIN_BOTTOM:.0f}"

    @property
    def words_y(self) -> float:
        """Where the line of words below the ticks stands."""
        return self.bottom + 31

    def box(self) -> Box:
        return Box(self.left, self.top, self.right, self.bottom)

    def rectangle(
        self, x_cm: float, y_cm: float, length_cm: float, size_cm: float
    ) -> dict[str, str]:
        """Return x, y, width, height on the drawing of a box of the tank [cm]."""
        start, end = self.y(y_cm), self.y(y_cm + size_cm)
        return {
            "x": tenth(self.x(x_cm)),
            "y": tenth(min(start, end)),
            "width": tenth(length_cm / self.across_cm * self.width),
            "height": tenth(abs(end - start)),
        }

    def x_ticks(self, unit: str) -> list[Mark]:
        """Return the ticks below the lower edge, in the reader's unit."""
        texts = ticks(self.across_cm, unit, roomy=self.width > 150)
        below, places = tenth(self.bottom + 15), [self.x(to_cm(value, unit)) for value, _ in texts]
        return [
            Mark(tenth(x), below, text, path=f"M{x:.1f} {self.bottom:.1f}v4")
            for x, (_, text) in zip(places, texts, strict=True)
        ]

    def y_ticks(self, unit: str) -> list[Mark]:
        """Return the ticks beside the left edge, in the reader's unit."""
        texts = ticks(self.down_cm, unit, roomy=self.height > 150)
        beside, places = tenth(self.left - 6), [self.y(to_cm(value, unit)) for value, _ in texts]
        return [
            Mark(beside, tenth(y), text, path=f"M{self.left:.1f} {y:.1f}h-4")
            for y, (_, text) in zip(places, texts, strict=True)
        ]


def frame_for(across_cm: float, down_cm: float, *, upward: bool = False) -> Frame:
    """Return the Frame that fits the drawing's width, true to scale where that can be read."""
    room = DRAWING_WIDTH - MARGIN_LEFT - MARGIN_RIGHT
    scale = min(room / across_cm, HEIGHT_MAX / down_cm)
    width = max(across_cm * scale, HEIGHT_MIN)
    height = max(down_cm * scale, HEIGHT_MIN)
    return Frame(
        across_cm=across_cm,
        down_cm=down_cm,
        left=MARGIN_LEFT + (room - width) / 2,
        top=MARGIN_TOP,
        width=width,
        height=height,
        upward=upward,
        stretched=not math.isclose(width / across_cm, height / down_cm, rel_tol=0.02),
    )


def ticks(size_cm: float, unit: str, *, roomy: bool) -> list[tuple[float, str]]:
    """Return (value, text) in the reader's unit: round numbers from 0 to the far end."""
    size = from_cm(size_cm, unit)
    most = 7 if roomy else 4
    decade = 10.0 ** math.floor(math.log10(size / TICKS_MIN))
    step = next(s * decade for s in (*TICK_STEPS, 10, 20) if size / (s * decade) <= most)
    values = [i * step for i in range(int(size / step + 1e-9) + 1)]
    return [(value, f"{value:g}") for value in values]
