"""What a layout is worth: unit responses of fixtures at the zones' points, added up and scored.

Light adds up, so every fixture's light at every point is worked out once for each place, height
and optic, and a layout is a weighted sum of such columns. What counts beside the share in band is
our own choice.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from apps.photics.ground.arrays import FloatArray, FloatOrArray, IntArray
from apps.photics.ground.scene import Fixture
from apps.photics.layout.light_lost import light_lost
from apps.photics.layout.planned_light import log_axial
from apps.photics.layout.question import DUST, Candidate, Choice, Question, Room, room
from apps.photics.layout.unit_response import bottom_kernel, mirrors
from apps.photics.optics.bottom import bottom_cells
from apps.photics.optics.daylight import daylight_at
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.nominal import BOTTOM
from apps.photics.rig.rig import Rig, images_in

# A point counts as in its band by how likely it is there when the light is off by this much, a
# deviation in log PAR [1]: chosen, so that small misses cost little and no share jumps.
SOFT = 0.10
# What evenness, light past the rim and power add or take beside the share in band [1]: chosen, so
# that they settle between layouts that serve the zones alike.
EVENNESS, LIGHT_LOST, POWER = 0.10, 0.20, 0.02
# What a point above a soft edge costs of one in its band [1]: chosen, because a coral there may
# have to sit in the shade of a rock, but one that starves has no place at all.
CAUTION = 0.25
# Levels tried: about 7 % from one to the next, in whole percent [1]. Chosen, as a dial is set.
LEVELS = np.unique(np.round(np.geomspace(5.0, 100.0, 45))) / 100.0
# Levels of two kinds are tried together in coarser steps: every second of each first, then the
# neighbours of the best pair. Chosen, because all pairs of fine levels cost too much time.
COARSE_LEVELS = np.round(np.geomspace(5.0, 100.0, 15)) / 100.0
SPARSE = np.arange(0, len(COARSE_LEVELS), 2)
# The objective of a layout that can't hang [1]: chosen, because it is below any other's.
NOTHING = -1.0
# Fixtures worked out at once: chosen, because it keeps the ray arrays within a few MB.
AT_ONCE = 8
# Middles of fixtures, (x, y) of each [cm].
Places = tuple[tuple[float, float], ...]
# One fixture hung: x, y, height [cm], beam [degrees].
HungAt = tuple[float, float, float, float]


class HungKind(NamedTuple):
    """All fixtures of one kind in a layout: whose, with which beam, where, at which level."""

    candidate: int
    beam_deg: float
    places_cm: Places
    height_cm: float
    level: float

    def hung_at(self) -> list[HungAt]:
        """Return where each of its fixtures hangs, with its beam."""
        return [(x, y, self.height_cm, self.beam_deg) for x, y in self.places_cm]


@dataclass(frozen=True)
class Layout:
    """A choice hung: middles (n, 2) in whole cm, one height and one level [1] for each kind."""

    choice: Choice
    places_cm: Places
    height_cm: float
    level: float = 1.0
    fill_places_cm: Places = ()
    fill_height_cm: float = 0.0
    fill_level: float = 0.0

    def kinds(self) -> tuple[HungKind, ...]:
        """Return the HungKind of the main kind, then that of the fill if there is one."""
        choice = self.choice
        main = HungKind(choice.main, choice.beam_deg, self.places_cm, self.height_cm, self.level)
        if choice.fill is None:
            return (main,)
        return main, HungKind(
            choice.fill, choice.fill_beam_deg, self.fill_places_cm, self.fill_height_cm,
            self.fill_level,
        )  # fmt: skip

    def fixtures(self, question: Question) -> tuple[list[Fixture], list[OutputEstimate]]:
        """Return the photics Fixtures, those of the main kind first, and their OutputEstimates."""
        made: list[Fixture] = []
        outputs: list[OutputEstimate] = []
        for kind in self.kinds():
            candidate = question.candidates[kind.candidate]
            for at in kind.hung_at():
                name = f"{candidate.name} {len(made) + 1}"
                made.append(fixture_of(candidate, at, level=kind.level, name=name))
                outputs.append(candidate.output)
        return made, outputs


@dataclass(frozen=True)
class Score:
    """What a layout gives; what has no unit in its name is [1], shares are 0 to 1."""

    objective: float
    zone_shares: tuple[float, ...]  # of each zone's points in band, softly counted
    evenness: float  # least over mean PAR in a zone, averaged over zones
    light_lost: float  # share of the light that misses the water
    watts: float | None  # at the level it burns [W]
    zone_mean_umol: tuple[float, ...]  # [umol m-2 s-1]


def fixture_of(candidate: Candidate, at: HungAt, *, level: float = 1.0, name: str = "") -> Fixture:
    """Return the Fixture of a candidate hung at a place, at a level from 0 to 1 [1]."""
    x, y, height, beam = at
    return Fixture(
        x_cm=x, y_cm=y, height_cm=height, beam_deg=beam, panel_x_cm=candidate.panel_x_cm,
        panel_y_cm=candidate.panel_y_cm, kind=candidate.kind, level=level, name=name,
        optic=candidate.optic_at(beam), emitter=candidate.emitter,
    )  # fmt: skip


class Scorer:
    """A question with its points unfolded once, and a memory of what each fixture gives there."""

    def __init__(self, question: Question) -> None:
        self.question = question
        parts = [zone.points(question.rocks, tank=question.tank) for zone in question.zones]
        self.points = np.concatenate(parts)
        ends = np.cumsum([len(part) for part in parts])
        self.slices = [slice(e - len(p), e) for e, p in zip(ends, parts, strict=True)]
        weight = np.array([zone.weight for zone in question.zones], float)
        self.weight = weight / weight.sum()
        self.mean_of = np.zeros((len(self.points), len(parts)))
        for k, part in enumerate(self.slices):
            self.mean_of[part, k] = 1.0 / (part.stop - part.start)
        counts = [len(part) for part in parts]
        self.low = np.repeat(np.log([zone.low_umol for zone in question.zones]), counts)
        self.high = np.repeat(np.log([zone.top_umol for zone in question.zones]), counts)
        # Above a soft edge light asks for care: it costs, but less than light out of band.
        soft = [np.log(zone.high_umol) if zone.high_is_soft else np.inf for zone in question.zones]
        self.caution = np.repeat(soft, counts)
        # The bottom's cells are unfolded behind the zones' points: one pass lights both. Single
        # precision is far finer than the model, and faster.
        everywhere = np.concatenate([self.points, bottom_cells(question.tank)])
        self.images = images_in(everywhere.astype(np.float32), question.tank, question.rocks)
        self.shared = question.law.shared()
        self.returned = np.exp(self.shared[BOTTOM]) * bottom_kernel(self.points, question.tank)
        self.mirrors = mirrors(question, self.points)
        self.daylight = daylight_at(self.points, question.tank)
        self.columns: dict[tuple[int, HungAt], FloatArray] = {}
        self.lost: dict[tuple[int, HungAt], float] = {}
        self.rooms: dict[int, Room | None] = {}
        self.scored = 0

    def light(self, number: int, places: Sequence[HungAt]) -> FloatArray:
        """Return PAR at full level of one fixture at each place, (n, k) [umol m-2 s-1]."""
        self.prepare({number: places})
        return np.stack([self.column(number, place) for place in places], axis=1)

    def column(self, number: int, place: HungAt) -> FloatArray:
        """Return the prepared light of one fixture at the points, (n,) [umol m-2 s-1]."""
        place, order = self.mirrored(place)
        column = self.columns[number, place]
        return column if order is None else column[order]

    def mirrored(self, place: HungAt) -> tuple[HungAt, IntArray | None]:
        """Return the near side's place that gives the same light, and the points' order (n,)."""
        x, y, height, beam = place
        order: IntArray | None = None
        tank = self.question.tank
        if self.mirrors[0] is not None and x > tank.length_cm / 2:
            x, order = round(tank.length_cm - x, 3), self.mirrors[0]
        if self.mirrors[1] is not None and y > tank.width_cm / 2:
            y = round(tank.width_cm - y, 3)
            order = self.mirrors[1] if order is None else order[self.mirrors[1]]
        return (x, y, height, beam), order

    def prepare(self, wanted: Mapping[int, Iterable[HungAt]]) -> None:
        """Work out the light of fixtures, places by candidate, that is not in the memory yet."""
        for number, places in wanted.items():
            near = dict.fromkeys(self.mirrored(place)[0] for place in places)
            missing = [place for place in near if (number, place) not in self.columns]
            for k in range(0, len(missing), AT_ONCE):
                self.work_out(number, missing[k : k + AT_ONCE])

    def work_out(self, number: int, places: Sequence[HungAt]) -> None:
        """Put the light of one fixture at new places into the memory, all at once."""
        question, candidate = self.question, self.question.candidates[number]
        fixtures = [fixture_of(candidate, place) for place in places]
        rig = Rig(question.tank, fixtures, question.rocks)
        theta = rig.nominal()
        theta[4 * rig.many :] = self.shared
        rays = rig.ray_light(self.images, theta)
        light = self.images.summed(rays) @ rig.member
        many = len(self.points)
        par = light[:many] + self.returned @ light[many:]
        for k, place in enumerate(places):
            axial = log_axial(
                ppf_umol_s=candidate.output.ppf_umol_s,
                beam_deg=place[3],
                optic=candidate.optic_at(place[3]),
            )
            self.columns[number, place] = np.exp(axial) * par[:, k]
            self.lost[number, place] = light_lost(fixtures[k], question.tank)

    def room(self, number: int) -> Room | None:
        """Return where the middle of a candidate may hang [cm], remembered."""
        if number not in self.rooms:
            self.rooms[number] = room(self.question, self.question.candidates[number])
        return self.rooms[number]

    def fits(self, layout: Layout) -> bool:
        """Return whether every fixture hangs where it may and none lies on another."""
        kinds = layout.kinds()
        if not all(self.inside(kind) for kind in kinds):
            return False
        boxes = [
            (x, y, candidate.panel_x_cm, candidate.panel_y_cm)
            for kind in kinds
            for candidate in [self.question.candidates[kind.candidate]]
            for x, y in kind.places_cm
        ]
        return not any(
            abs(a[0] - b[0]) < (a[2] + b[2]) / 2 - DUST
            and abs(a[1] - b[1]) < (a[3] + b[3]) / 2 - DUST
            for a, b in combinations(boxes, 2)
        )

    def inside(self, kind: HungKind) -> bool:
        """Return whether the places and height of a kind lie within what hanging allows."""
        open_to = self.room(kind.candidate)
        low, high = self.question.limits.height_cm
        if open_to is None or not low - DUST <= kind.height_cm <= high + DUST:
            return False
        (x_low, x_high), (y_low, y_high) = open_to
        if not all(
            x_low - DUST <= x <= x_high + DUST and y_low - DUST <= y <= y_high + DUST
            for x, y in kind.places_cm
        ):
            return False
        # Over a corner that the panes leave out there is nothing to hang a fixture over.
        x, y = zip(*kind.places_cm, strict=True)
        return not self.question.tank.outside(x, y).any()

    def best_level(self, layout: Layout) -> tuple[Layout, float]:
        """Return the layout at its best level or levels, and its objective, NOTHING if unfit [1].

        All levels are tried, or pairs of coarse ones as chosen above.
        """
        self.scored += 1
        if not self.fits(layout):
            return layout, NOTHING
        main, fill, lost = self.both(layout)
        if fill is None:
            power = self.power(layout, LEVELS, np.zeros_like(LEVELS))
            values = self.objective(LEVELS[:, None] * main) - POWER * power
            at = int(values.argmax())
            return replace(layout, level=float(LEVELS[at])), float(values[at]) - LIGHT_LOST * lost
        value, k, j = self.best_pair(layout, main, fill, SPARSE, SPARSE)
        value, k, j = self.best_pair(layout, main, fill, beside(k), beside(j))
        level, fill_level = float(COARSE_LEVELS[k]), float(COARSE_LEVELS[j])
        return replace(layout, level=level, fill_level=fill_level), value - LIGHT_LOST * lost

    def best_pair(
        self,
        layout: Layout,
        main: FloatArray,
        fill: FloatArray,
        tried: IntArray,
        fill_tried: IntArray,
    ) -> tuple[float, int, int]:
        """Return the worth of the best pair of coarse levels [1], and its places among them.

        `main` (n,) and `fill` (n,) their light at full level [umol m-2 s-1]; `tried` (k,) and
        `fill_tried` (j,) places among COARSE_LEVELS, chosen as above.
        """
        k, j = (axis.ravel() for axis in np.meshgrid(tried, fill_tried, indexing="ij"))
        levels, fill_levels = COARSE_LEVELS[k], COARSE_LEVELS[j]
        light = levels[:, None] * main + fill_levels[:, None] * fill
        value = self.objective(light) - POWER * self.power(layout, levels, fill_levels)
        at = int(value.argmax())
        return float(value[at]), int(k[at]), int(j[at])

    def best_of(self, layouts: Sequence[Layout]) -> list[tuple[Layout, float]]:
        """Return (layout at its best level, objective [1]) of each, all lit together."""
        wanted: dict[int, list[HungAt]] = {}
        for layout in layouts:
            if self.fits(layout):
                for kind in layout.kinds():
                    wanted.setdefault(kind.candidate, []).extend(kind.hung_at())
        self.prepare(wanted)
        return [self.best_level(layout) for layout in layouts]

    def both(self, layout: Layout) -> tuple[FloatArray, FloatArray | None, float]:
        """Return the light of the main kind (n,), of the fill or None, and the share lost [1]."""
        light: list[FloatArray] = []
        lost: list[float] = []
        for kind in layout.kinds():
            places = kind.hung_at()
            light.append(self.light(kind.candidate, places).sum(axis=1))
            lost += [self.lost[kind.candidate, self.mirrored(place)[0]] for place in places]
        return light[0], light[1] if len(light) > 1 else None, float(np.mean(lost))

    def power(self, layout: Layout, level: FloatOrArray, fill_level: FloatOrArray) -> FloatOrArray:
        """Return the power at a level, or levels (k,), for 1 of all that the limits allow [1].

        By definition: fixtures at full level over all that may hang.
        """
        choice, limits = layout.choice, self.question.limits
        burning = level * choice.count + fill_level * choice.fill_count
        share: FloatOrArray = burning / (limits.count + limits.fill_count)
        return share

    def inside_band(self, light: FloatArray) -> FloatArray:
        """Return how far each point counts as in its band, (..., n), 0 to 1 [1].

        `light` (..., n) PAR at the points [umol m-2 s-1]. The chance by a normal law of deviation
        SOFT in log PAR.
        """
        log = np.log(light)
        inside: FloatArray = ndtr((self.high - log) / SOFT) - ndtr((self.low - log) / SOFT)
        return inside

    def worth_of(self, light: FloatArray) -> FloatArray:
        """Return what each point counts, (..., n), 0 to 1 [1]: in band, less above a soft edge.

        `light` (..., n) PAR at the points [umol m-2 s-1]. How much less is our own choice.
        """
        worth: FloatArray = self.inside_band(light)
        if np.isfinite(self.caution).any():
            worth = worth - CAUTION * ndtr((np.log(light) - self.caution) / SOFT)
        return worth

    def objective(self, light: FloatArray) -> FloatArray:
        """Return share in band plus evenness, (...) [1], without rim and power.

        `light` (..., n) PAR of the fixtures at the points [umol m-2 s-1]. What counts, and by how
        much, is our own choice.
        """
        light = light + self.daylight
        mean = light @ self.mean_of
        least = np.stack([light[..., part].min(axis=-1) for part in self.slices], axis=-1)
        in_band = self.worth_of(light) @ self.mean_of @ self.weight
        objective: FloatArray = in_band + EVENNESS * ((least / mean) @ self.weight)
        return objective

    def score(self, layout: Layout) -> Score:
        """Return the Score of a layout at the levels it has."""
        main, fill, lost = self.both(layout)
        lamps = layout.level * main + (0.0 if fill is None else layout.fill_level * fill)
        light = lamps + self.daylight
        mean = light @ self.mean_of
        least = np.array([light[part].min() for part in self.slices])
        power = self.power(layout, layout.level, layout.fill_level)
        return Score(
            objective=float(self.objective(lamps) - LIGHT_LOST * lost - POWER * power),
            zone_shares=tuple((self.inside_band(light) @ self.mean_of).tolist()),
            evenness=float((least / mean) @ self.weight),
            light_lost=lost,
            watts=lit_watts(self.question, layout),
            zone_mean_umol=tuple(mean.tolist()),
        )


def beside(at: int) -> IntArray:
    """Return a place among the coarse levels with those on both sides, (k,)."""
    return np.arange(max(at - 1, 0), min(at + 2, len(COARSE_LEVELS)))


def lit_watts(question: Question, layout: Layout) -> float | None:
    """Return the watts a layout draws at its levels, in proportion to them; None if unknown [W]."""
    total = 0.0
    for kind in layout.kinds():
        watts = question.candidates[kind.candidate].watts
        if watts is None:
            return None
        total += len(kind.places_cm) * kind.level * watts
    return total
