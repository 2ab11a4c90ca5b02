"""Where to hold the sensor: patterns of points over a tank, clear of rock, at readable places."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.common.registry import Registry
from apps.photics.ground import scene
from apps.photics.ground.lengths import CM, CM_PER_INCH
from apps.tanks.models import Rock, Tank

# A probe held nearer to glass than this touches it [cm], house rule.
CLEAR_CM = 2.0
# How far the ring's points keep from the rocks' outline, and the front row from the pane [cm].
GAP_CM = 5.0
# Depths are planned in steps of this [cm], or of an inch. Our own choice.
ROUND_CM = 5.0


@dataclass(frozen=True)
class Place:
    """One place for the sensor [cm], and what it is for."""

    x_cm: float
    y_cm: float
    depth_cm: float
    words: str = ""

    def numbers(self) -> dict[str, float]:
        """Return where it is, by name [cm]."""
        return {"x_cm": self.x_cm, "y_cm": self.y_cm, "depth_cm": self.depth_cm}


# Where the corals sit: provider(tank) returns Places.
CORAL_PLACES: Registry[Place] = Registry()
# Where readings would make the last map surest, the most telling first: provider(tank, count)
# returns Places, none where there is no map yet.
TELLING_PLACES: Registry[Place] = Registry()


def grid_places(tank: Tank, *, nx: int, ny: int, depths_cm: Sequence[float]) -> list[Place]:
    """Return nx by ny places at each depth, each in the middle of its share of the water.

    Their order goes back and forth, so that each lies beside the one before.
    """
    xs, ys = _shares(tank.length_cm, nx), _shares(tank.width_cm, ny)
    result: list[Place] = []
    for depth in depths_cm:
        for y in ys:
            result += [Place(x, y, depth) for x in xs]
            xs = xs[::-1]
        ys = ys[::-1]
    return result


def front_places(
    tank: Tank, *, count: int, depths_cm: Sequence[float], gap_cm: float = GAP_CM
) -> list[Place]:
    """Return a row of places along the front pane at each depth, back and forth."""
    xs = _shares(tank.length_cm, count)
    box = tank.scene()
    front = [0.0 if box.is_box else box.rim.chord_cm(x_cm=x)[0] for x in xs]
    row = [(x, min(y + gap_cm, tank.width_cm)) for x, y in zip(xs, front, strict=True)]
    result: list[Place] = []
    for depth in depths_cm:
        result += [Place(x, y, depth) for x, y in row]
        row = row[::-1]
    return result


def ring_places(
    tank: Tank,
    rocks: Sequence[Rock],
    *,
    count: int,
    depths_cm: Sequence[float],
    gap_cm: float = GAP_CM,
) -> list[Place]:
    """Return `count` places at each depth, evenly round the outline of all rocks.

    The outline is the box round the rocks, a gap wider; places that would fall outside the
    water are drawn in to just clear of the glass. Without rocks there is no ring.
    """
    if not rocks:
        return []
    left = min(r.x_cm for r in rocks) - gap_cm
    right = max(r.x_cm + r.length_cm for r in rocks) + gap_cm
    front = min(r.y_cm for r in rocks) - gap_cm
    back = max(r.y_cm + r.width_cm for r in rocks) + gap_cm
    wide, deep = right - left, back - front
    round_cm = 2 * (wide + deep)
    flat = []
    for i in range(count):
        along = round_cm * i / count
        if along < wide:
            x, y = left + along, front
        elif along < wide + deep:
            x, y = right, front + along - wide
        elif along < 2 * wide + deep:
            x, y = right - (along - wide - deep), back
        else:
            x, y = left, back - (along - 2 * wide - deep)
        flat.append((_within(x, tank.length_cm), _within(y, tank.width_cm)))
    return [Place(x, y, depth) for depth in depths_cm for x, y in flat]


def clear_of_rock(
    places: Sequence[Place], tank: Tank, rocks: Sequence[scene.Rock]
) -> tuple[list[Place], int]:
    """Return the places that a sensor can be held at, and how many lie in rock or outside."""
    box = tank.scene()
    free = [
        p
        for p in places
        if p.words or not scene.out_of_water(box, rocks, p.x_cm, p.y_cm, p.depth_cm)
    ]
    return free, len(places) - len(free)


def readable(place: Place, tank: Tank, unit: str) -> Place:
    """Return a place at whole cm or half inches, where that keeps it in the water."""
    step_cm = 1.0 if unit == CM else CM_PER_INCH / 2

    def rounded(value_cm: float, end_cm: float) -> float:
        whole = round(round(value_cm / step_cm) * step_cm, 2)
        return whole if 0 <= whole <= end_cm else round(value_cm, 2)

    return Place(
        rounded(place.x_cm, tank.length_cm),
        rounded(place.y_cm, tank.width_cm),
        rounded(place.depth_cm, tank.depth_cm),
        place.words,
    )


def even_depths(tank: Tank, count: int) -> list[float]:
    """Return `count` depths [cm], each in the middle of its share of the water."""
    return _shares(tank.depth_cm, count)


def round_depths(tank: Tank, count: int, unit: str) -> list[float]:
    """Return `even_depths` at whole steps of a tape, where that keeps them apart and in the water.

    A probe is held at "20 cm", not at 21.
    """
    even = even_depths(tank, count)
    step_cm = ROUND_CM if unit == CM else CM_PER_INCH
    rounded = [round(round(depth / step_cm) * step_cm, 2) for depth in even]
    is_apart = len(set(rounded)) == count and rounded[0] > 0 and rounded[-1] < tank.depth_cm
    return rounded if is_apart else even


def _shares(side_cm: float, count: int) -> list[float]:
    return [side_cm * (i + 0.5) / count for i in range(count)]


def _within(value_cm: float, end_cm: float) -> float:
    clear = min(CLEAR_CM, end_cm / 2)
    return min(max(value_cm, clear), end_cm - clear)
