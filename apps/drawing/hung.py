"""The hung plan: fixtures over the tank with the lengths a person needs to hang them."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from apps.drawing.frame import DRAWING_WIDTH
from apps.drawing.marks import Mark, polygon_points, tenth
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.optics.lit_face import face_corners_cm, hung_corners_cm

LEFT, RIGHT, TOP = 50.0, 14.0, 18.0
# A number stands so far above a fixture seen from the front: its face is too thin to hold it.
NUMBER_ABOVE = 7.0
# Room below the tank for one line of labels and for the words; a second line adds LINE_GAP.
BOTTOM = 42.0
HIGH_MOST = 300.0
# Labels of one line need this much room each, in drawing units; else they go to a second line.
LABEL_ROOM = 30.0
LINE_GAP = 17.0
# Of the water only the top is drawn from the front [share of the height above it].
WATER_SHOWN = 0.5
# At least so much of the water [cm], a face so thick [cm], and panes so far above the water, in cm
# but no more than so many drawing units: chosen to look like the thing.
WATER_LEAST_CM = 8.0
FACE_THICK_CM = 2.0
RIM_CM, RIM_MOST = 2.0, 8.0

# A length [cm] as the reader's unit tells it.
LengthText = Callable[[float], str]


@dataclass(frozen=True)
class Face:
    """One fixture: its outline, and where its number stands."""

    points: str
    x: str
    y: str
    number: str


@dataclass(frozen=True)
class HungDrawing:
    """One view of what hangs: from above or from the front."""

    view_box: str
    water: dict[str, str]
    water_points: str  # its corners where it is no rectangle, else empty
    glass: str
    faces: tuple[Face, ...]
    across: tuple[Mark, ...]
    beside: tuple[Mark, ...]
    words: tuple[tuple[str, str, str], ...]  # x, y, text


def draw_hung(
    tank: Tank, fixtures: Sequence[Fixture], length_text: LengthText
) -> tuple[HungDrawing, HungDrawing]:
    """Return the views from above and from the front of Fixtures over a Tank."""
    return from_above(tank, fixtures, length_text), from_front(tank, fixtures, length_text)


@dataclass(frozen=True)
class View:
    """Where centimetres lie on a drawing: across from the tank's left end, and up or back."""

    left_cm: float  # how far the drawing goes to the left of the tank's left end, zero or less
    right_cm: float
    top_cm: float
    foot_cm: float
    scale: float  # drawing units per cm

    def x(self, x_cm: float) -> float:
        """Return the place across of a length from the tank's left end."""
        return LEFT + (x_cm - self.left_cm) * self.scale

    def y(self, up_cm: float) -> float:
        """Return the place from the top of a length up or back."""
        return TOP + (self.top_cm - up_cm) * self.scale

    def places(self, corners_cm: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
        """Return the places of corners."""
        return [(self.x(x), self.y(up)) for x, up in corners_cm]


def view_of(tank: Tank, fixtures: Sequence[Fixture], *, top_cm: float, foot_cm: float) -> View:
    """Return the View that holds a tank's length, all fixtures, and from top to foot [cm]."""
    x = [x for fixture in fixtures for x, _ in face_corners_cm(fixture)]
    left, right = min(0.0, *x), max(tank.length_cm, *x)
    scale = min((DRAWING_WIDTH - LEFT - RIGHT) / (right - left), HIGH_MOST / (top_cm - foot_cm))
    return View(left, right, top_cm, foot_cm, scale)


def water_box(view: View, tank: Tank, *, top_cm: float, foot_cm: float) -> dict[str, str]:
    """Return the rectangle of the water from top to foot [cm]."""
    left, top = view.x(0.0), view.y(top_cm)
    return {"x": tenth(left), "y": tenth(top), "width": tenth(view.x(tank.length_cm) - left),
            "height": tenth(view.y(foot_cm) - top)}  # fmt: skip


def from_above(tank: Tank, fixtures: Sequence[Fixture], length_text: LengthText) -> HungDrawing:
    """Return what hangs seen from above, the front at the foot."""
    y = [y for fixture in fixtures for _, y in face_corners_cm(fixture)]
    view = view_of(tank, fixtures, top_cm=max(tank.width_cm, *y), foot_cm=min(0.0, *y))
    low = view.y(view.foot_cm)
    lengths = distinct(fixture.x_cm for fixture in fixtures)
    across = running([(view.x(x), length_text(x)) for x in lengths], low)
    high = low + BOTTOM + (LINE_GAP if len({mark.y for mark in across}) > 1 else 0.0)
    middle = tenth(view.x(tank.length_cm / 2))
    return HungDrawing(
        view_box=f"0 0 {DRAWING_WIDTH:.0f} {high:.0f}",
        water=water_box(view, tank, top_cm=tank.width_cm, foot_cm=0.0),
        water_points="" if tank.is_box else polygon_points(view.places(tank.rim.corners_cm)),
        glass="",
        faces=tuple(
            face(number, view.places(face_corners_cm(fixture)))
            for number, fixture in enumerate(fixtures, start=1)
        ),
        across=across,
        beside=depth_marks(view, fixtures, length_text),
        words=((middle, tenth(high - 4), "— FRONT —"), (middle, "11", "back pane")),
    )


def depth_marks(
    view: View, fixtures: Sequence[Fixture], length_text: LengthText
) -> tuple[Mark, ...]:
    """Return the Marks of how far from the front pane fixtures hang, left of the tank."""
    return tuple(
        Mark(tenth(view.x(view.left_cm) - 10), tenth(view.y(y)), length_text(y),
             path=f"M{view.x(view.left_cm):.1f} {view.y(y):.1f}h-8")
        for y in spaced(distinct(fixture.y_cm for fixture in fixtures), view.scale)
    )  # fmt: skip


def from_front(tank: Tank, fixtures: Sequence[Fixture], length_text: LengthText) -> HungDrawing:
    """Return what hangs seen from the front, over the top of the water."""
    up = max(z for fixture in fixtures for _, z in front_corners(fixture))
    down = min(tank.depth_cm, max(WATER_SHOWN * up, WATER_LEAST_CM))
    view = view_of(tank, fixtures, top_cm=up, foot_cm=-down)
    bottom = view.y(-down)
    faces = numbered_together(
        face(
            number,
            view.places(front_corners(fixture)),
            FACE_THICK_CM * view.scale / 2 + NUMBER_ABOVE,
        )
        for number, fixture in enumerate(fixtures, start=1)
    )
    return HungDrawing(
        view_box=f"0 0 {DRAWING_WIDTH:.0f} {bottom + 22:.0f}",
        water=water_box(view, tank, top_cm=0.0, foot_cm=-down),
        water_points="",
        glass=glass_path(view, tank, bottom),
        faces=faces,
        across=(),
        beside=height_marks(view, fixtures, length_text),
        words=((tenth(view.x(tank.length_cm / 2)), tenth(bottom + 16), "water, from the front"),),
    )


def glass_path(view: View, tank: Tank, bottom: float) -> str:
    """Return the path of the two panes seen from the front, a little above the water."""
    edge = view.y(0.0) - min(RIM_CM * view.scale, RIM_MOST)
    return "".join(f"M{view.x(x):.1f} {edge:.1f}V{bottom:.1f}" for x in (0.0, tank.length_cm))


def height_marks(
    view: View, fixtures: Sequence[Fixture], length_text: LengthText
) -> tuple[Mark, ...]:
    """Return the Marks of heights above the water: the lowest at the left, others at the right."""
    surface = view.y(0.0)

    def mark(line_x: float, text_x: float, height: float) -> Mark:
        top = view.y(height)
        path = f"M{line_x:.1f} {surface:.1f}V{top:.1f}m-3 0h6m-6 {height * view.scale:.1f}h6"
        return Mark(tenth(text_x), tenth((surface + top) / 2), length_text(height), path=path)

    lowest, *others = distinct(fixture.height_cm for fixture in fixtures)
    left, right = view.x(view.left_cm), view.x(view.right_cm)
    return (mark(left - 4, left - 8, lowest), *(mark(right + 4, right, h) for h in others))


def front_corners(fixture: Fixture) -> list[tuple[float, float]]:
    """Return the outline of a fixture seen from the front, four (x, height above water) [cm]."""
    x = [x for x, _ in face_corners_cm(fixture)]
    up = [height for _, _, height in hung_corners_cm(fixture)]
    low, high = min(up), max(up) + FACE_THICK_CM
    return [(min(x), low), (max(x), low), (max(x), high), (min(x), high)]


def face(number: int, corners: Sequence[tuple[float, float]], lifted: float = 0.0) -> Face:
    x = sum(x for x, _ in corners) / len(corners)
    y = sum(y for _, y in corners) / len(corners)
    return Face(polygon_points(corners), tenth(x), tenth(y - lifted), str(number))


def numbered_together(faces: Iterable[Face]) -> tuple[Face, ...]:
    """Return Faces of which the first at a spot carries the numbers of all there.

    Seen from the front, what hangs behind another would print its number over the other's.
    """
    drawn = tuple(faces)
    numbers: dict[tuple[str, str], list[str]] = {}
    for one in drawn:
        numbers.setdefault((one.x, one.y), []).append(one.number)
    return tuple(replace(one, number=", ".join(numbers.pop((one.x, one.y), ()))) for one in drawn)


def distinct(lengths_cm: Iterable[float]) -> list[float]:
    """Return lengths once each, ascending [cm]."""
    return sorted({round(length, 2) for length in lengths_cm})


def spaced(lengths_cm: Sequence[float], scale: float) -> list[float]:
    """Return the lengths whose labels do not run into each other; the table tells them all."""
    kept: list[float] = []
    for length in lengths_cm:
        if not kept or (length - kept[-1]) * scale >= 11.0:
            kept.append(length)
    return kept


def running(places: Sequence[tuple[float, str]], foot: float) -> tuple[Mark, ...]:
    """Return Marks of lengths from the left end below the tank, crowded ones on a second line."""
    marks, last = [], [-1e9, -1e9]
    for x, text in places:
        line = 0 if x - last[0] >= LABEL_ROOM else 1
        if line == 1 and x - last[1] < LABEL_ROOM:
            continue
        last[line] = x
        y = foot + 12 + line * LINE_GAP
        path = f"M{x:.1f} {foot:.1f}V{y - 5:.1f}"
        marks.append(Mark(tenth(x), tenth(y + 6), text, path=path))
    return tuple(marks)
