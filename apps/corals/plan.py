"""What the plan and the front view of a tank show when a coral is placed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from apps.corals.models import Spot
from apps.drawing.frame import ticks
from apps.drawing.marks import Mark, polygon_points
from apps.photics.ground.lengths import UNIT_WORDS, to_cm
from apps.tanks.models import Tank

# Room round the drawings for the marks at the walls, beside them for numbers, and how tall these
# are [cm per cm of tank length].
MARGIN_SHARE, NUMBERS_SHARE, LETTER_SHARE = 0.04, 0.09, 0.038


@dataclass(frozen=True)
class Drawing:
    """One view of the tank in cm: `view_box` for the SVG, the rocks and the other corals."""

    view_box: str
    width: float
    height: float
    mark: float  # radius of another coral's dot [cm]
    here: float  # radius of the ring round the place being looked for [cm]
    cross: str  # the path of the cross in that ring
    rocks: tuple[dict[str, float], ...]
    dots: tuple[Mark, ...]
    letter: float  # how tall its numbers are [cm]
    x_ticks: tuple[Mark, ...]  # numbers in the reader's unit below its foot
    y_ticks: tuple[Mark, ...]  # and at its left
    outline: str = ""  # corners of the water where it does not fill the view


@dataclass(frozen=True)
class SpotPlan:
    """The plan (back wall on top, front at the foot) and the front view of one tank."""

    tank: Tank
    above: Drawing
    front: Drawing
    unit: str
    cm_per_unit: float


def placed_corals(tank: Tank, *, without: int | None = None) -> list[tuple[str, Spot]]:
    """Return (name, spot) of the tank's living corals that have a spot today."""
    today = tank.today()
    corals = tank.corals.present().living().prefetch_related("spots").exclude(pk=without)
    spots = [(coral.name, coral.spot_on(today)) for coral in corals]
    return [(name, spot) for name, spot in spots if spot]


def spot_plan(tank: Tank, others: Sequence[tuple[str, Spot]], *, unit: str) -> SpotPlan:
    """Return the SpotPlan of a tank; `others` are (name, Spot) of the corals already placed."""
    rocks = tank.scene_rocks()
    length, width, depth = tank.length_cm, tank.width_cm, tank.depth_cm
    scene = tank.scene()
    corners = [] if scene.is_box else [(x, width - y) for x, y in scene.rim.corners_cm]
    above = drawing(
        length,
        width,
        # The front pane is drawn at the foot, as one stands before the tank.
        [rectangle(r.x_cm, width - r.y_cm - r.width_cm, r.length_cm, r.width_cm) for r in rocks],
        [Mark(str(s.x_cm), str(width - s.y_cm), name) for name, s in others],
        unit=unit,
        upward=True,
        outline=polygon_points(corners),
    )
    front = drawing(
        length,
        depth,
        [rectangle(r.x_cm, r.depth_cm, r.length_cm, r.height_cm) for r in rocks],
        [Mark(str(s.x_cm), str(s.depth_cm), name) for name, s in others],
        unit=unit,
    )
    return SpotPlan(tank, above, front, unit, UNIT_WORDS[unit])


def rectangle(x: float, y: float, width: float, height: float) -> dict[str, float]:
    """Return a rectangle of a drawing [cm], its y counted down from the drawing's top."""
    return {"x": x, "y": y, "width": width, "height": height}


def drawing(
    width: float,
    height: float,
    rocks: Iterable[dict[str, float]],
    dots: Iterable[Mark],
    *,
    unit: str,
    upward: bool = False,
    outline: str = "",
) -> Drawing:
    """Return a Drawing; `upward` counts its numbers at the left from the foot."""
    margin, room, letter = (s * width for s in (MARGIN_SHARE, NUMBERS_SHARE, LETTER_SHARE))
    view_box = f"{-room:g} {-margin:g} {width + room + margin:g} {height + margin + room:g}"
    across = [(to_cm(value, unit), text) for value, text in ticks(width, unit, roomy=True)]
    down = [(to_cm(value, unit), text) for value, text in ticks(height, unit, roomy=False)]
    mark, here = width / 60, width / 35
    return Drawing(
        view_box=view_box,
        width=width,
        height=height,
        mark=round(mark, 2),
        here=round(here, 2),
        cross=f"M{-here:.2f} 0H{here:.2f}M0 {-here:.2f}V{here:.2f}",
        rocks=tuple(rocks),
        dots=tuple(dots),
        letter=round(letter, 2),
        x_ticks=tuple(Mark(f"{x:.2f}", f"{height + 1.5 * letter:.2f}", text) for x, text in across),
        y_ticks=tuple(
            Mark(
                f"{-0.5 * letter:.2f}", f"{(height - y if upward else y) + 0.35 * letter:.2f}", text
            )
            for y, text in down
        ),
        outline=outline,
    )
