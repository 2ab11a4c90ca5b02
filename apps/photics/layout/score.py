"""What a layout is worth: unit responses of fixtures at the zones' points, added up and scored.

Light adds up, so every fixture's light at every point is worked out once for each place, height
and optic, and a layout is a weighted sum of such columns. What counts beside the share in band is
our own choice.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from apps.photics.ground.arrays import BoolArray, FloatArray, IntArray
from apps.photics.layout.choice import DUST, Choice, Room, room
from apps.photics.layout.hanging import HungAt, HungKind, Layout, fixture_of
from apps.photics.layout.light.light_lost import light_lost
from apps.photics.layout.planned_light import log_axial, output_deviation, planned_shared
from apps.photics.layout.question import Question
from apps.photics.layout.unit_response import bottom_kernel, mirrors
from apps.photics.optics.bottom import bottom_cells
from apps.photics.optics.daylight import daylight_at
from apps.photics.rig.nominal import BOTTOM
from apps.photics.rig.rig import Rig, images_in

# A point counts as in its band by how likely it is there when the light is off by this much, a
# deviation in log PAR [1]: chosen, so that small misses cost little and no share jumps.
SOFT = 0.10
# Scale of the logistic law nearest to a normal one [1] (Camilli 1994, J. Educ. Behav. Stat. 19,
# 293), and from where on its chances are 0 or 1 [deviations]: chosen, because exp of more
# overflows.
NEAREST_NORMAL, FAR = 1.702, 40.0
# How far optics, water and hanging put the light of a plan off, a deviation in log PAR [1]: chosen
# as traced plans show it. With the outputs' own, a layout is sought that serves in most cases.
OPTICS_OFF = 0.15
# What evenness, light past the rim and power add or take beside the share in band [1]: chosen, so
# that they settle between layouts that serve the zones alike.
EVENNESS, LIGHT_LOST, POWER = 0.10, 0.20, 0.02
# What each e-fold of light below the band costs beside that, and up to how many of them [1, log]:
# chosen, so that fixtures that cannot serve are turned up as far as helps.
SHORT, SHORT_MOST = 0.06, 4.0
# What a point above a soft edge costs of one in its band [1]: chosen, because a coral there may
# have to sit in the shade of a rock, but one that starves has no place at all.
CAUTION = 0.25
# Levels tried, in whole percent [1]: chosen, as a dial is set: about a fifth from one to the next,
# then those between the neighbours of the best.
LEVELS = np.unique(np.round(np.geomspace(5.0, 100.0, 45))) / 100.0
COARSE_LEVELS = LEVELS[::-1][::3][::-1]
# How often the levels of several kinds are set in turn: chosen, because more change little.
ROUNDS = 2
# A zone is served when this share of its points lies in band, softly counted [1]: chosen, because
# no tank has all of a zone in its band.
SERVED = 0.80
# The objective of a layout that can't hang [1]: chosen, because it is below any other's.
NOTHING = -1.0
# Hangings of kinds alone that tubes are tried beside: chosen, because they are moved together
# afterwards.
BEST_ALONE = 2
# Fixtures worked out at once: chosen, because it keeps the ray arrays within a few MB.
AT_ONCE = 8


@dataclass(frozen=True)
class Score:
    """What a layout gives; what has no unit in its name is [1], shares are 0 to 1."""

    objective: float
    zone_shares: tuple[float, ...]  # of each zone's points in band, softly counted
    evenness: float  # least over mean PAR in a zone, averaged over zones
    light_lost: float  # share of the light that misses the water
    watts: float | None  # at the level it burns [W]
    zone_mean_umol: tuple[float, ...]  # [umol m-2 s-1]


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
        self.topped: BoolArray = np.isfinite(self.high)
        self.cautioned: BoolArray = np.isfinite(self.caution)
        # The bottom's cells are unfolded behind the zones' points: one pass lights both. Single
        # precision is far finer than the model, and faster.
        everywhere = np.concatenate([self.points, bottom_cells(question.tank)])
        self.images = images_in(everywhere.astype(np.float32), question.tank, question.rocks)
        off = [output_deviation(one.output) for one in question.candidates]
        self.off = float(np.hypot(OPTICS_OFF, np.median(off)))
        self.returned = np.exp(question.law.shared()[BOTTOM]) * bottom_kernel(
            self.points, question.tank
        )
        self.mirrors = mirrors(question, self.points)
        self.daylight = daylight_at(self.points, question.tank, question.rocks)
        self.columns: dict[tuple[int, HungAt], FloatArray] = {}
        self.lost: dict[tuple[int, HungAt], float] = {}
        self.rooms: dict[int, Room | None] = {}
        self.alone: dict[Choice, list[Layout]] = {}
        self.scored = 0

    def light(self, number: int, places: Sequence[HungAt]) -> FloatArray:
        """Return PAR at full level of one fixture at each place, (n, k) [umol m-2 s-1]."""
        self.prepare({number: places})
        return np.stack([self.column(number, place) for place in places], axis=1)

    def column(self, number: int, place: HungAt) -> FloatArray:
        """Return the prepared light of one fixture at the points, (n,) [umol m-2 s-1]."""
        place, order = self.mirrored(number, place)
        column = self.columns[number, place]
        return column if order is None else column[order]

    def mirrored(self, number: int, place: HungAt) -> tuple[HungAt, IntArray | None]:
        """Return the near side's place that gives the same light, and the points' order (n,)."""
        x, y, height, beam = place
        order: IntArray | None = None
        tank = self.question.tank
        if not self.question.candidates[number].is_mirrored:
            return place, order
        if self.mirrors[0] is not None and x > tank.length_cm / 2:
            x, order = round(tank.length_cm - x, 3), self.mirrors[0]
        if self.mirrors[1] is not None and y > tank.width_cm / 2:
            y = round(tank.width_cm - y, 3)
            order = self.mirrors[1] if order is None else order[self.mirrors[1]]
        return (x, y, height, beam), order

    def prepare(self, wanted: Mapping[int, Iterable[HungAt]]) -> None:
        """Work out the light of fixtures, places by candidate, that is not in the memory yet."""
        for number, places in wanted.items():
            near = dict.fromkeys(self.mirrored(number, place)[0] for place in places)
            missing = [place for place in near if (number, place) not in self.columns]
            for k in range(0, len(missing), AT_ONCE):
                self.work_out(number, missing[k : k + AT_ONCE])

    def work_out(self, number: int, places: Sequence[HungAt]) -> None:
        """Put the light of one fixture at new places into the memory, all at once."""
        question, candidate = self.question, self.question.candidates[number]
        fixtures = [fixture_of(candidate, place) for place in places]
        for beam in dict.fromkeys(place[3] for place in places):
            some = [k for k, place in enumerate(places) if place[3] == beam]
            rig = Rig(question.tank, [fixtures[k] for k in some], question.rocks)
            shared = planned_shared(question.law, rig.fixtures)
            theta = rig.nominal()
            theta[4 * rig.many :] = shared
            rays = rig.ray_light(self.images, theta)
            light = self.images.summed(rays) @ rig.member
            many = len(self.points)
            par = light[:many] + self.returned @ light[many:]
            axial = log_axial(
                ppf_umol_s=candidate.output.ppf_umol_s,
                beam_deg=beam,
                optic=candidate.optic_at(beam),
                shared=shared,
            )
            for at, k in enumerate(some):
                self.columns[number, places[k]] = np.exp(axial) * par[:, at]
                lost = light_lost(fixtures[k], question.tank, shared=shared)
                self.lost[number, places[k]] = lost

    def room(self, number: int) -> Room | None:
        """Return where the middle of a candidate may hang [cm], remembered."""
        if number not in self.rooms:
            self.rooms[number] = room(self.question, self.question.candidates[number])
        return self.rooms[number]

    def fits(self, layout: Layout) -> bool:
        """Return whether every fixture hangs where it may and none lies on another."""
        return all(self.inside(kind) for kind in layout.hung) and not self.overlaps(layout)

    def overlaps(self, layout: Layout) -> bool:
        """Return whether fixtures lie on each other, seen from above."""
        boxes = [
            (x, y, *self.question.candidates[kind.candidate].sides_cm)
            for kind in layout.hung
            for x, y in kind.places_cm
        ]
        return any(
            abs(a[0] - b[0]) < (a[2] + b[2]) / 2 - DUST
            and abs(a[1] - b[1]) < (a[3] + b[3]) / 2 - DUST
            for a, b in combinations(boxes, 2)
        )

    def inside(self, kind: HungKind) -> bool:
        """Return whether the places and height of a kind lie within what hanging allows."""
        candidate = self.question.candidates[kind.candidate]
        if candidate.is_kept:
            return True
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
        """Return the layout at its best levels, and its objective, NOTHING if unfit [1].

        First one level for all kinds, then each kind's in turn, coarse and then fine.
        """
        self.scored += 1
        if not self.fits(layout):
            return layout, NOTHING
        light, lost = self.light_by_kind(layout)
        counts = np.array([len(kind.places_cm) for kind in layout.hung], float)
        levels, value = self.best_scale(light, counts, np.ones(len(light)))
        if len(light) > 1:
            for _ in range(ROUNDS):
                for k in range(len(light)):
                    levels, value = self.best_of_one(light, counts, levels, k)
        return layout.at_levels(levels), value - LIGHT_LOST * lost

    def best_scale(
        self, light: FloatArray, counts: FloatArray, shape: FloatArray
    ) -> tuple[FloatArray, float]:
        """Return the best of the levels that are `shape` (K,) times one of LEVELS, (K,) [1].

        And its worth [1]. `light` (K, n) at full level [umol m-2 s-1], `counts` (K,) of each kind.
        """

        def worth(tried: FloatArray) -> FloatArray:
            return self.worth_at(light, counts, tried[:, None] * shape)

        level, value = finest(worth)
        return level * shape, value

    def best_of_one(
        self, light: FloatArray, counts: FloatArray, levels: FloatArray, k: int
    ) -> tuple[FloatArray, float]:
        """Return levels (K,) [1] with the k-th at its best of LEVELS, and their worth [1].

        `light` (K, n) at full level [umol m-2 s-1], `counts` (K,) of each kind.
        """

        def worth(tried: FloatArray) -> FloatArray:
            rows = np.tile(levels, (len(tried), 1))
            rows[:, k] = tried
            return self.worth_at(light, counts, rows)

        level, value = finest(worth)
        changed = levels.copy()
        changed[k] = level
        return changed, value

    def worth_at(self, light: FloatArray, counts: FloatArray, levels: FloatArray) -> FloatArray:
        """Return the objective without light lost of rows of levels, (m,) [1].

        `light` (K, n) at full level [umol m-2 s-1], `counts` (K,), `levels` (m, K) [1].
        """
        limits = self.question.limits
        power = levels @ counts / (limits.count + limits.fill_count)
        worth: FloatArray = self.objective(levels @ light) - POWER * power
        return worth

    def best_of(self, layouts: Sequence[Layout]) -> list[tuple[Layout, float]]:
        """Return (layout at its best level, objective [1]) of each, all lit together."""
        wanted: dict[int, list[HungAt]] = {}
        for layout in layouts:
            if self.fits(layout):
                for kind in layout.hung:
                    wanted.setdefault(kind.candidate, []).extend(kind.hung_at())
        self.prepare(wanted)
        return [self.best_level(layout) for layout in layouts]

    def best_alone(
        self, choice: Choice, starts: Callable[["Scorer", Choice], Sequence[Layout]]
    ) -> Sequence[Layout]:
        """Return the BEST_ALONE best of the regular hangings of a choice, remembered.

        `starts` gives those hangings.
        """
        if choice not in self.alone:
            hung = sorted(self.best_of(starts(self, choice)), key=lambda pair: -pair[1])
            self.alone[choice] = [layout for layout, value in hung if value > NOTHING][:BEST_ALONE]
        return self.alone[choice]

    def light_by_kind(self, layout: Layout) -> tuple[FloatArray, float]:
        """Return the light of each kind at full level, (K, n) [umol m-2 s-1], and the share lost.

        The share is that of all fixtures alike [1].
        """
        light: list[FloatArray] = []
        lost: list[float] = []
        for kind in layout.hung:
            number, places = kind.candidate, kind.hung_at()
            light.append(self.light(number, places).sum(axis=1))
            lost += [self.lost[number, self.mirrored(number, place)[0]] for place in places]
        return np.stack(light), float(np.mean(lost))

    def power(self, layout: Layout) -> float:
        """Return the power of a layout at its levels, for 1 of all that the limits allow [1].

        By definition: fixtures at full level over all that may hang.
        """
        burning = sum(kind.level * len(kind.places_cm) for kind in layout.hung)
        return burning / (self.question.limits.count + self.question.limits.fill_count)

    def inside_band(self, light: FloatArray, *, off: float = SOFT) -> FloatArray:
        """Return how far each point counts as in its band, (..., n), 0 to 1 [1].

        `light` (..., n) PAR at the points [umol m-2 s-1]. The chance by a law of deviation `off` in
        log PAR [1].
        """
        log = np.log(light)
        inside: FloatArray = chance((log - self.low) / off)
        topped = self.topped
        if topped.any():
            inside[..., topped] -= chance((log[..., topped] - self.high[topped]) / off)
        return inside

    def worth_of(self, light: FloatArray) -> FloatArray:
        """Return what each point counts, (..., n), 0 to 1 [1]: how likely in band, less with care.

        `light` (..., n) PAR at the points [umol m-2 s-1]. How much less is our own choice.
        """
        worth, soft = self.inside_band(light, off=self.off), self.cautioned
        if soft.any():
            above = (np.log(light[..., soft]) - self.caution[soft]) / self.off
            worth[..., soft] -= CAUTION * chance(above)
        return worth

    def objective(self, light: FloatArray) -> FloatArray:
        """Return share in band plus evenness, (...) [1], without rim and power.

        `light` (..., n) PAR of the fixtures at the points [umol m-2 s-1]. What counts, and by how
        much, is our own choice: the share that is likely in band though the light may be off, less
        where it asks for care, and how far short of its band the rest falls.
        """
        light = light + self.daylight
        mean = light @ self.mean_of
        least = np.stack([light[..., part].min(axis=-1) for part in self.slices], axis=-1)
        in_band = self.worth_of(light) @ (self.mean_of @ self.weight)
        short = np.clip(self.low - np.log(light), 0.0, SHORT_MOST) @ (self.mean_of @ self.weight)
        objective: FloatArray = in_band + EVENNESS * ((least / mean) @ self.weight) - SHORT * short
        return objective

    def score(self, layout: Layout) -> Score:
        """Return the Score of a layout at the levels it has."""
        by_kind, lost = self.light_by_kind(layout)
        lamps = np.array(layout.levels) @ by_kind
        light = lamps + self.daylight
        mean = light @ self.mean_of
        least = np.array([light[part].min() for part in self.slices])
        worth = self.objective(lamps) - LIGHT_LOST * lost - POWER * self.power(layout)
        return Score(
            objective=float(worth),
            zone_shares=tuple((self.inside_band(light) @ self.mean_of).tolist()),
            evenness=float((least / mean) @ self.weight),
            light_lost=lost,
            watts=lit_watts(self.question, layout),
            zone_mean_umol=tuple(mean.tolist()),
        )


def chance(deviations: FloatArray) -> FloatArray:
    """Return the chance of less than so many deviations, (..., n) both [1].

    By the logistic law that lies nearest to the normal one, within a hundredth: it is worked out
    many times as fast, and a search asks for it millions of times.
    """
    far = np.clip(deviations, -FAR, FAR)
    chances: FloatArray = 1.0 / (1.0 + np.exp(-NEAREST_NORMAL * far))
    return chances


def finest(worth: Callable[[FloatArray], FloatArray]) -> tuple[float, float]:
    """Return the best of LEVELS [1] and its worth [1], by what is worth at levels (m,)."""
    values = worth(COARSE_LEVELS)
    at = int(np.searchsorted(LEVELS, COARSE_LEVELS[int(values.argmax())]))
    tried = LEVELS[max(at - 2, 0) : at + 3]
    values = worth(tried)
    best = int(values.argmax())
    return float(tried[best]), float(values[best])


def lit_watts(question: Question, layout: Layout) -> float | None:
    """Return the watts a layout draws at its levels, in proportion to them; None if unknown [W]."""
    total = 0.0
    for kind in layout.hung:
        watts = question.candidates[kind.candidate].watts
        if watts is None:
            return None
        total += len(kind.places_cm) * kind.level * watts
    return total
