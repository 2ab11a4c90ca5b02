"""Where a coral would get the light it should have: a region with how sure it is, best places."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.common.units import GAP, format_length
from apps.corals.models import Coral
from apps.drawing.frame import Frame
from apps.drawing.marks import Mark, square_path, tenth
from apps.drawing.plan import plan_frame, plan_rocks
from apps.drawing.section import section_frame, section_rocks
from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.photics.layout.placing import (
    APART_SHARE,
    Places,
    best_apart,
    chance_within,
    resting_places,
    rock_loss,
    worth,
)
from apps.planning.what_if.live_light import LiveLight, PointLight
from apps.tanks.models import Tank

# Chances at which a place counts as likely, probable or possible, and how large its square is drawn
# [1]: chosen, as words are commonly understood.
GRADES = (("likely", 0.8, 1.0), ("probable", 0.5, 0.68), ("possible", 0.2, 0.36))
# Losing more than this to a rock a place counts as shaded [1]: chosen as half.
SHADED = 0.5
# Nearer than this to another coral a place is taken [cm]: chosen as room to grow.
ELBOW_CM = 5.0
# As many as are compared at a glance: chosen.
SUGGESTIONS = 5


@dataclass(frozen=True)
class Suggestion:
    """One good place, in words."""

    letter: str
    x_cm: float
    y_cm: float
    depth_cm: float
    on: str  # what it rests on, in words
    at: str  # and where that is
    par_umol: float
    low_umol: float
    high_umol: float
    dli_mol: float | None
    chance_percent: float
    change_percent: float | None  # against the light it comes from
    extrapolated: bool


@dataclass(frozen=True)
class Region:
    """The places of one grade on a drawing, as one path of squares."""

    grade: str
    path: str


@dataclass(frozen=True)
class PlaceDrawing:
    """The graded places seen from one side, with the suggestions' letters."""

    frame: Frame
    regions: tuple[Region, ...]
    rocks: tuple[dict[str, str], ...]
    others: tuple[tuple[str, str], ...]
    letters: tuple[tuple[str, str, str], ...]
    x_ticks: tuple[Mark, ...]
    y_ticks: tuple[Mark, ...]


@dataclass(frozen=True)
class PlaceAnswer:
    """The best places of a tank for a band, and how many of all places are how likely."""

    suggestions: tuple[Suggestion, ...]
    above: PlaceDrawing
    front: PlaceDrawing
    many: int
    shares: tuple[tuple[str, float], ...]  # (grade, % of all places)
    shaded_percent: float
    dimmest_umol: float
    brightest_umol: float
    advice: str  # "brighter" or "dimmer" where no place has the band's light, else ""
    knows_rig: bool

    @property
    def has_regions(self) -> bool:
        """Whether there is anything to draw: a place that is at least possible."""
        return any(percent > 0 for _, percent in self.shares)


def find_places(
    live: LiveLight,
    band: tuple[float, float],
    *,
    from_umol: float | None,
    deepest_cm: float | None,
    besides: Coral | None,
    unit: str,
) -> PlaceAnswer | None:
    """Return the PlaceAnswer of a tank for a (low, high) PAR band, None where nothing can rest.

    `from_umol` is the PAR the coral comes from, None where unknown; `deepest_cm` how deep an arm
    goes; `besides` is a coral whose own spot is no obstacle.
    """
    tank = live.tank
    places = resting_places(tank.scene(), tank.scene_rocks(), deepest_cm=deepest_cm)
    if not len(places.points_cm):
        return None
    lost = lost_to_rock(live, places)
    others = other_spots(tank, besides)
    light = live.now_at(places.points_cm)
    chance = chance_within(
        light.par_umol, light.low_umol, light.high_umol,
        band_low_umol=band[0], band_high_umol=band[1],
    )  # fmt: skip
    fit = np.where((lost > SHADED) | is_taken(places.points_cm, others), 0.0, chance)
    numbered = zip("ABCDE", best_places(live, places, light, fit, from_umol), strict=False)
    suggestions = tuple(
        suggestion(live, places, light, chance, number, letter, from_umol, unit)
        for letter, number in numbered
    )
    above, front = draw_places(tank, places, fit, suggestions, others, unit)
    return PlaceAnswer(
        suggestions=suggestions,
        above=above,
        front=front,
        many=len(fit),
        shares=grade_shares(fit),
        shaded_percent=100.0 * float((lost > SHADED).mean()),
        dimmest_umol=float(light.par_umol.min()),
        brightest_umol=float(light.par_umol.max()),
        advice=brightness_advice(light.par_umol, band),
        knows_rig=bool(live.rows),
    )


def grade_shares(fit: FloatArray) -> tuple[tuple[str, float], ...]:
    """Return (grade, share of all places [%]) by their chances (m,) [1]."""
    return tuple((word, 100.0 * float((fit >= least).mean())) for word, least, _ in GRADES)


def lost_to_rock(live: LiveLight, places: Places) -> FloatArray:
    """Return the share of each place's light that rocks take away, (m,) [1]."""
    tank = live.tank
    return rock_loss(
        places.points_cm,
        tank=tank.scene(),
        fixtures=[row.scene() for row in live.rows],
        rocks=tank.scene_rocks(),
    )


def best_places(
    live: LiveLight, places: Places, light: PointLight, fit: FloatArray, from_umol: float | None
) -> list[int]:
    """Return the numbers of the best places, apart from each other; `fit` (m,) their chance [1]."""
    value = worth(fit, light.par_umol, from_umol=from_umol)
    able = np.where(fit >= GRADES[-1][1], value, 0.0)
    apart = APART_SHARE * max(live.tank.length_cm, live.tank.width_cm)
    return best_apart(places.points_cm, able, most=SUGGESTIONS, apart_cm=apart)


def brightness_advice(par_umol: FloatArray, band: tuple[float, float]) -> str:
    """Return "brighter" or "dimmer" where all places (m,) miss a (low, high) band, else "".

    All in [umol m-2 s-1].
    """
    if par_umol.max() < band[0]:
        return "brighter"
    return "dimmer" if par_umol.min() > band[1] else ""


def other_spots(tank: Tank, besides: Coral | None) -> FloatArray:
    """Return the spots of the other living corals today, (m, 3) [cm]."""
    corals = Coral.objects.present().living().filter(tank=tank).prefetch_related("spots")
    today = tank.today()
    spots = [coral.spot_on(today) for coral in corals if coral != besides]
    points = [(spot.x_cm, spot.y_cm, spot.depth_cm) for spot in spots if spot]
    return np.array(points, float).reshape(-1, 3)


def is_taken(points_cm: FloatArray, others_cm: FloatArray) -> BoolArray:
    """Return whether each place (m, 3) lies too near another coral (k, 3), (m,) [cm]."""
    if not len(others_cm):
        return np.zeros(len(points_cm), bool)
    gaps = np.linalg.norm(points_cm[:, None, :] - others_cm[None, :, :], axis=2)
    taken: BoolArray = gaps.min(axis=1) < ELBOW_CM
    return taken


def suggestion(
    live: LiveLight,
    places: Places,
    light: PointLight,
    chance: FloatArray,
    number: int,
    letter: str,
    from_umol: float | None,
    unit: str,
) -> Suggestion:
    """Return the Suggestion of one place, by its number."""
    x, y, depth = (float(value) for value in places.points_cm[number])
    par = float(light.par_umol[number])
    return Suggestion(
        letter=letter,
        x_cm=x,
        y_cm=y,
        depth_cm=depth,
        on=rest_words(live.tank, int(places.rock[number])),
        at=where_words((x, y, depth), unit),
        par_umol=par,
        low_umol=float(light.low_umol[number]),
        high_umol=float(light.high_umol[number]),
        dli_mol=live.dli_mol(par),
        chance_percent=100.0 * float(chance[number]),
        change_percent=None if from_umol is None else 100.0 * (par / from_umol - 1.0),
        extrapolated=bool(light.extrapolated[number]),
    )


def rest_words(tank: Tank, rock: int) -> str:
    """Say what a place is on: a rock by its number, the bottom for -1."""
    if rock >= 0:
        present = [r for r in tank.rocks.all() if r.removed_at is None]
        return f"on top of “{present[rock].name}”" if present[rock].name else "on top of a rock"
    return "on the sand" if tank.bottom == tank.Bottom.SAND else "on the bottom"


def where_words(at_cm: tuple[float, float, float], unit: str) -> str:
    """Say where a place is [cm] as one would point at it."""
    x, y, depth = (format_length(value, unit) for value in at_cm)
    return f"{x} from the left, {y} from the front, {depth}{GAP}{unit} deep"


def draw_places(
    tank: Tank,
    places: Places,
    fit: FloatArray,
    suggestions: Sequence[Suggestion],
    others: FloatArray,
    unit: str,
) -> tuple[PlaceDrawing, PlaceDrawing]:
    """Return the PlaceDrawings from above and from the front."""
    plan, side = plan_frame(tank), section_frame(tank)
    views = ((plan, 1, plan_rocks(tank, plan)), (side, 2, section_rocks(tank, side)))
    above, front = (
        PlaceDrawing(
            frame=frame,
            regions=regions_of(places, fit, frame, axis),
            rocks=rocks,
            others=tuple((tenth(frame.x(p[0])), tenth(frame.y(p[axis]))) for p in others),
            letters=tuple(
                (
                    tenth(frame.x(s.x_cm)),
                    tenth(frame.y((s.x_cm, s.y_cm, s.depth_cm)[axis])),
                    s.letter,
                )
                for s in suggestions
            ),
            x_ticks=tuple(frame.x_ticks(unit)),
            y_ticks=tuple(frame.y_ticks(unit)),
        )
        for frame, axis, rocks in views
    )
    return above, front


def regions_of(places: Places, fit: FloatArray, frame: Frame, axis: int) -> tuple[Region, ...]:
    """Return a Region for each grade; of places behind each other the likeliest is drawn."""
    shown: dict[tuple[float, float], float] = {}
    for point, chance in zip(places.points_cm, fit, strict=True):
        key = round(float(point[0]), 2), round(float(point[axis]), 2)
        shown[key] = max(shown.get(key, 0.0), float(chance))
    pitch = places.pitch_cm / frame.across_cm * frame.width
    regions, above = [], np.inf
    for grade, least, size in GRADES:
        side = max(pitch * size, 2.0)
        path = "".join(
            square_path(frame.x(x), frame.y(down), side)
            for (x, down), chance in shown.items()
            if least <= chance < above
        )
        regions.append(Region(grade, path))
        above = least
    return tuple(regions)
