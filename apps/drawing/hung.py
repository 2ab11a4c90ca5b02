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
FACE_THICK_CM = 2.0

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


def reach(fixtures: Sequence[Fixture], length_cm: float) -> tuple[float, float]:
    """Return how far the drawing goes to the left and right of the tank's left end [cm]."""
    x = [x for fixture in fixtures for x, _ in face_corners_cm(fixture)]
    return min(0.0, *x), max(length_cm, *x)


def from_above(tank: Tank, fixtures: Sequence[Fixture], length_text: LengthText) -> HungDrawing:
    y_all = [y for fixture in fixtures for _, y in face_corners_cm(fixture)]
    x0, x1 = reach(fixtures, tank.length_cm)
    y0, y1 = min(0.0, *y_all), max(tank.width_cm, *y_all)
    scale = min((DRAWING_WIDTH - LEFT - RIGHT) / (x1 - x0), HIGH_MOST / (y1 - y0))

    def at_x(x: float) -> float:
        return LEFT + (x - x0) * scale

    def at_y(y: float) -> float:
        return TOP + (y1 - y) * scale

    foot, glass_left = at_y(0.0), at_x(0.0)
    faces = tuple(
        face(number, [(at_x(x), at_y(y)) for x, y in face_corners_cm(fixture)])
        for number, fixture in enumerate(fixtures, start=1)
    )
    low = max(foot, at_y(y0))
    across = running([(at_x(x), length_text(x)) for x in distinct(f.x_cm for f in fixtures)], low)
    beside = tuple(
        Mark(tenth(at_x(x0) - 10), tenth(at_y(y)), length_text(y),
             path=f"M{at_x(min(x0, 0.0)):.1f} {at_y(y):.1f}h-8")
        for y in spaced(distinct(f.y_cm for f in fixtures), scale)
    )  # fmt: skip
    high = low + BOTTOM + (LINE_GAP if len({mark.y for mark in across}) > 1 else 0.0)
    return HungDrawing(
        view_box=f"0 0 {DRAWING_WIDTH:.0f} {high:.0f}",
        water={"x": tenth(glass_left), "y": tenth(at_y(tank.width_cm)),
               "width": tenth(tank.length_cm * scale), "height": tenth(tank.width_cm * scale)},
        glass="",
        faces=faces,
        across=across,
        beside=beside,
        words=((tenth(at_x(tank.length_cm / 2)), tenth(high - 4), "▲ FRONT ▲"),
               (tenth(at_x(tank.length_cm / 2)), "11", "back pane")),
    )  # fmt: skip


def from_front(tank: Tank, fixtures: Sequence[Fixture], length_text: LengthText) -> HungDrawing:
    x0, x1 = reach(fixtures, tank.length_cm)
    up = max(z for fixture in fixtures for _, z in front_corners(fixture))
    down = min(tank.depth_cm, max(WATER_SHOWN * up, 8.0))
    scale = min((DRAWING_WIDTH - LEFT - RIGHT) / (x1 - x0), HIGH_MOST / (up + down))

    def at_x(x: float) -> float:
        return LEFT + (x - x0) * scale

    def at_y(above: float) -> float:
        return TOP + (up - above) * scale

    faces = numbered_together(
        face(
            number,
            [(at_x(x), at_y(z)) for x, z in front_corners(fixture)],
            FACE_THICK_CM * scale / 2 + NUMBER_ABOVE,
        )
        for number, fixture in enumerate(fixtures, start=1)
    )
    surface, left = at_y(0.0), at_x(min(x0, 0.0))

    def height_mark(line_x: float, text_x: float, height: float) -> Mark:
        path = f"M{line_x:.1f} {surface:.1f}V{at_y(height):.1f}m-3 0h6m-6 {height * scale:.1f}h6"
        middle = (surface + at_y(height)) / 2
        return Mark(tenth(text_x), tenth(middle), length_text(height), path=path)

    beside = tuple(
        height_mark(left - 4, left - 8, height)
        for height in distinct(f.height_cm for f in fixtures)[:1]
    )  # fmt: skip
    others = distinct(f.height_cm for f in fixtures)[1:]
    right = at_x(max(x1, tank.length_cm))
    beside += tuple(
        height_mark(right + 4, right, height)
        for height in others
    )  # fmt: skip
    bottom = at_y(-down)
    glass_left, glass_right = at_x(0.0), at_x(tank.length_cm)
    rim = min(2.0 * scale, 8.0)
    return HungDrawing(
        view_box=f"0 0 {DRAWING_WIDTH:.0f} {bottom + 22:.0f}",
        water={"x": tenth(glass_left), "y": tenth(surface),
               "width": tenth(glass_right - glass_left), "height": tenth(bottom - surface)},
        glass=f"M{glass_left:.1f} {surface - rim:.1f}V{bottom:.1f}"
              f"M{glass_right:.1f} {surface - rim:.1f}V{bottom:.1f}",
        faces=faces,
        across=(),
        beside=beside,
        words=((tenth(at_x(tank.length_cm / 2)), tenth(bottom + 16), "water, from the front"),),
    )  # fmt: skip


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
