"""What a layout is worth: unit responses of fixtures at the zones' points, added up and scored.

Light adds up, so every fixture's light at every point is worked out once for each place, height
and optic, and a layout is a weighted sum of such columns.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from apps.photics.ground.scene import Fixture, Tank
from apps.photics.layout.light_lost import spill_share
from apps.photics.layout.planned_light import log_axial
from apps.photics.layout.question import Choice, Question, room
from apps.photics.optics.bottom import BOTTOM_NODES, bottom_cells, bottom_return
from apps.photics.rig.rig import BOTTOM, Rig, images_in

# A point counts as in its band by how likely it is there when the light is off by this much, a
# deviation in log PAR: small misses cost little, and no share jumps. House rule.
SOFT = 0.10
# What evenness, light past the rim and power add or take beside the share in band [1]. House rule:
# they settle between layouts that serve the zones alike.
EVENNESS, SPILL, POWER = 0.10, 0.20, 0.02
# Levels tried: about 7 % from one to the next, in whole percent [1].
LEVELS = np.unique(np.round(np.geomspace(5.0, 100.0, 45))) / 100.0
# Levels of two kinds are tried together in coarser steps: every second of each first, then the
# neighbours of the best pair.
COARSE_LEVELS = np.round(np.geomspace(5.0, 100.0, 15)) / 100.0
SPARSE = np.arange(0, len(COARSE_LEVELS), 2)
NOTHING = -1.0
# Fixtures worked out at once: keeps the ray arrays within a few MB.
AT_ONCE = 8
# Points nearer than this are one and the same [cm].
SAME_CM = 1e-6


@dataclass(frozen=True)
class Layout:
    """A choice hung: middles (n, 2) in whole cm, one height and one level for each kind."""

    choice: Choice
    places_cm: tuple[tuple[float, float], ...]
    height_cm: float
    level: float = 1.0
    fill_places_cm: tuple[tuple[float, float], ...] = ()
    fill_height_cm: float = 0.0
    fill_level: float = 0.0

    def fixtures(self, question: Question):
        """Return the photics Fixtures, those of the main kind first, and their OutputEstimates."""
        choice, made, outputs = self.choice, [], []
        for number, beam, places, height, level in (
            (choice.main, choice.beam_deg, self.places_cm, self.height_cm, self.level),
            (choice.fill, choice.fill_beam_deg, self.fill_places_cm, self.fill_height_cm,
             self.fill_level),
        ):  # fmt: skip
            if number is None:
                continue
            candidate = question.candidates[number]
            for x, y in places:
                name = f"{candidate.name} {len(made) + 1}"
                made.append(fixture_of(candidate, (x, y, height, beam), level=level, name=name))
                outputs.append(candidate.output)
        return made, outputs


@dataclass(frozen=True)
class Score:
    """What a layout gives; shares are 0 to 1."""

    objective: float
    zone_shares: tuple[float, ...]  # of each zone's points in band, softly counted
    evenness: float  # least over mean PAR in a zone, averaged over zones
    spill: float  # share of the light that misses the water
    watts: float | None  # at the level it burns
    zone_mean_umol: tuple[float, ...]


def fixture_of(candidate, place, *, level=1.0, name=""):
    """Return the Fixture of a candidate at (x, y, height, beam)."""
    x, y, height, beam = place
    return Fixture(
        x_cm=x, y_cm=y, height_cm=height, beam_deg=beam, panel_x_cm=candidate.panel_x_cm,
        panel_y_cm=candidate.panel_y_cm, kind=candidate.kind, level=level, name=name,
        optic=candidate.optic_at(beam),
    )  # fmt: skip


class Scorer:
    """A question with its points unfolded once, and a memory of what each fixture gives there."""

    def __init__(self, question: Question):
        self.question = question
        parts = [zone.points(question.rocks) for zone in question.zones]
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
        self.high = np.repeat(np.log([zone.high_umol for zone in question.zones]), counts)
        # The bottom's cells are unfolded behind the zones' points: one pass lights both. Single
        # precision is far finer than the model, and faster.
        everywhere = np.concatenate([self.points, bottom_cells(question.tank)])
        self.images = images_in(everywhere.astype(np.float32), question.tank, question.rocks)
        self.shared = question.law.shared()
        self.returned = np.exp(self.shared[BOTTOM]) * bottom_kernel(self.points, question.tank)
        self.mirrors = mirrors(question, self.points)
        self.columns, self.spills, self.rooms = {}, {}, {}
        self.scored = 0

    def light(self, number, places):
        """Return PAR at full level of one fixture at each (x, y, height, beam), (n, k)."""
        self.prepare({number: places})
        return np.stack([self.column(number, place) for place in places], axis=1)

    def column(self, number, place):
        """Return the prepared light of one fixture at the points, (n,)."""
        place, order = self.mirrored(place)
        column = self.columns[number, place]
        return column if order is None else column[order]

    def mirrored(self, place):
        """Return the place on the near side that gives the same light, and the points' order."""
        x, y, height, beam = place
        order = None
        tank = self.question.tank
        if self.mirrors[0] is not None and x > tank.length_cm / 2:
            x, order = round(tank.length_cm - x, 3), self.mirrors[0]
        if self.mirrors[1] is not None and y > tank.width_cm / 2:
            y = round(tank.width_cm - y, 3)
            order = self.mirrors[1] if order is None else order[self.mirrors[1]]
        return (x, y, height, beam), order

    def prepare(self, wanted):
        """Work out the light of fixtures {number: places} that is not in the memory yet."""
        for number, places in wanted.items():
            near = dict.fromkeys(self.mirrored(place)[0] for place in places)
            missing = [place for place in near if (number, place) not in self.columns]
            for k in range(0, len(missing), AT_ONCE):
                self.work_out(number, missing[k : k + AT_ONCE])

    def work_out(self, number, places):
        """Put the light of one fixture at new places into the memory, all at once."""
        question, candidate = self.question, self.question.candidates[number]
        fixtures = [fixture_of(candidate, place) for place in places]
        rig = Rig(question.tank, fixtures, question.rocks)
        theta = rig.nominal()
        theta[4 * rig.many :] = self.shared
        rays = rig.ray_light(self.images, theta)
        light = self.images.summed(rays) @ rig.member
        many = len(self.points)
        found = light[:many] + self.returned @ light[many:]
        for k, place in enumerate(places):
            ppf, beam = candidate.output.ppf_umol_s, place[3]
            scale = np.exp(log_axial(ppf, beam, optic=candidate.optic_at(beam)))
            self.columns[number, place] = scale * found[:, k]
            self.spills[number, place] = spill_share(fixtures[k], question.tank)

    def room(self, number):
        """Return where the middle of a candidate may hang, remembered."""
        if number not in self.rooms:
            self.rooms[number] = room(self.question, self.question.candidates[number])
        return self.rooms[number]

    def fits(self, layout):
        """Return whether every fixture hangs where it may and none lies on another."""
        if not self.inside(layout.choice.main, layout.places_cm, layout.height_cm):
            return False
        if layout.choice.fill is not None and not self.inside(
            layout.choice.fill, layout.fill_places_cm, layout.fill_height_cm
        ):
            return False
        boxes = [
            (x, y, candidate.panel_x_cm, candidate.panel_y_cm)
            for number, places in (
                (layout.choice.main, layout.places_cm),
                (layout.choice.fill, layout.fill_places_cm),
            )
            if number is not None
            for candidate in [self.question.candidates[number]]
            for x, y in places
        ]
        return not any(
            abs(a[0] - b[0]) < (a[2] + b[2]) / 2 - 1e-9
            and abs(a[1] - b[1]) < (a[3] + b[3]) / 2 - 1e-9
            for k, a in enumerate(boxes)
            for b in boxes[:k]
        )

    def inside(self, number, places, height_cm):
        """Return whether places and height lie within what hanging allows."""
        (x_low, x_high), (y_low, y_high) = self.room(number)
        low, high = self.question.limits.height_cm
        return low - 1e-9 <= height_cm <= high + 1e-9 and all(
            x_low - 1e-9 <= x <= x_high + 1e-9 and y_low - 1e-9 <= y <= y_high + 1e-9
            for x, y in places
        )

    def best_level(self, layout):
        """Return the layout at its best level or levels, and its objective; NOTHING if unfit."""
        self.scored += 1
        if not self.fits(layout):
            return layout, NOTHING
        main, fill, spill = self.both(layout)
        if fill is None:
            value = self.objective(LEVELS[:, None] * main) - POWER * self.power(layout, LEVELS, 0.0)
            at = int(value.argmax())
            return replace(layout, level=float(LEVELS[at])), float(value[at]) - SPILL * spill
        value, k, j = self.best_pair(layout, main, fill, SPARSE, SPARSE)
        value, k, j = self.best_pair(layout, main, fill, beside(k), beside(j))
        level, fill_level = float(COARSE_LEVELS[k]), float(COARSE_LEVELS[j])
        return replace(layout, level=level, fill_level=fill_level), value - SPILL * spill

    def best_pair(self, layout, main, fill, tried, fill_tried):
        """Return the worth of the best pair of coarse levels, and its places among them."""
        k, j = (found.ravel() for found in np.meshgrid(tried, fill_tried, indexing="ij"))
        levels, fill_levels = COARSE_LEVELS[k], COARSE_LEVELS[j]
        light = levels[:, None] * main + fill_levels[:, None] * fill
        value = self.objective(light) - POWER * self.power(layout, levels, fill_levels)
        at = int(value.argmax())
        return float(value[at]), int(k[at]), int(j[at])

    def best_of(self, layouts):
        """Return (layout at its best level, objective) of each, their light worked out together."""
        wanted = {}
        for layout in layouts:
            if self.fits(layout):
                for number, places in keys_of(layout):
                    wanted.setdefault(number, []).extend(places)
        self.prepare(wanted)
        return [self.best_level(layout) for layout in layouts]

    def both(self, layout):
        """Return the light of the main kind (n,), of the fill or None, and the share spilt."""
        kinds = keys_of(layout)
        number, keys = kinds[0]
        main = self.light(number, keys).sum(axis=1)
        spilt = [self.spills[number, self.mirrored(key)[0]] for key in keys]
        fill = None
        for number, keys in kinds[1:]:
            fill = self.light(number, keys).sum(axis=1)
            spilt += [self.spills[number, self.mirrored(key)[0]] for key in keys]
        return main, fill, float(np.mean(spilt))

    def power(self, layout, level, fill_level):
        """Return the power at a level, or levels, for 1 of all that the limits allow [1]."""
        choice, limits = layout.choice, self.question.limits
        burning = level * choice.count + fill_level * choice.fill_count
        return burning / (limits.count + limits.fill_count)

    def objective(self, light):
        """Return share in band plus evenness of light (..., n), without rim and power."""
        log = np.log(light)
        inside = ndtr((self.high - log) / SOFT) - ndtr((self.low - log) / SOFT)
        mean = light @ self.mean_of
        least = np.stack([light[..., part].min(axis=-1) for part in self.slices], axis=-1)
        return inside @ self.mean_of @ self.weight + EVENNESS * ((least / mean) @ self.weight)

    def score(self, layout):
        """Return the Score of a layout at the levels it has."""
        main, fill, spill = self.both(layout)
        light = layout.level * main + (0.0 if fill is None else layout.fill_level * fill)
        log = np.log(light)
        inside = ndtr((self.high - log) / SOFT) - ndtr((self.low - log) / SOFT)
        mean = light @ self.mean_of
        least = np.array([light[part].min() for part in self.slices])
        power = self.power(layout, layout.level, layout.fill_level)
        return Score(
            objective=float(self.objective(light) - SPILL * spill - POWER * power),
            zone_shares=tuple((inside @ self.mean_of).tolist()),
            evenness=float((least / mean) @ self.weight),
            spill=spill,
            watts=lit_watts(self.question, layout),
            zone_mean_umol=tuple(mean.tolist()),
        )


def beside(at):
    """Return a place among the coarse levels with those on both sides."""
    return np.arange(max(at - 1, 0), min(at + 2, len(COARSE_LEVELS)))


def lit_watts(question, layout):
    """Return the watts a layout draws at its levels, in proportion to them; None if unknown."""
    choice = layout.choice
    total = 0.0
    for number, count, level in (
        (choice.main, choice.count, layout.level),
        (choice.fill, choice.fill_count, layout.fill_level),
    ):
        if number is None:
            continue
        watts = question.candidates[number].watts
        if watts is None:
            return None
        total += count * level * watts
    return total


def keys_of(layout):
    """Return (candidate, its places as (x, y, height, beam)) for each kind of a layout."""
    choice = layout.choice
    kinds = [(choice.main, [(*p, layout.height_cm, choice.beam_deg) for p in layout.places_cm])]
    if choice.fill is not None:
        places = [(*p, layout.fill_height_cm, choice.fill_beam_deg) for p in layout.fill_places_cm]
        kinds.append((choice.fill, places))
    return kinds


def mirrors(question, points_cm):
    """Return for x and y the order that mirrors the points onto themselves, None where it can't.

    Without rocks a fixture lights a symmetric set of points alike from both sides, if its optic
    is alike to both sides.
    """
    tank, found = question.tank, []
    optics = [one.optic for one in question.candidates if one.optic is not None]
    sides = [all(optic.is_mirrored(axis) for optic in optics) for axis in (0, 1)]
    allowed = (sides[0], sides[1] and tank.back_pane == "clear")
    for axis, side in enumerate((tank.length_cm, tank.width_cm)):
        order = None
        if allowed[axis] and not question.rocks:
            other = points_cm.copy()
            other[:, axis] = side - other[:, axis]
            gap = np.abs(points_cm[:, None, :] - other[None, :, :]).max(axis=-1)
            if gap.min(axis=1).max() < SAME_CM:
                order = gap.argmin(axis=1)
        found.append(order)
    return tuple(found)


@dataclass(frozen=True)
class LitCells:
    """What the bottom's return needs to know of a rig, where each cell is lit by itself."""

    tank: Tank
    many: int
    lit_bottom: np.ndarray
    open_bottom: np.ndarray


def bottom_kernel(points_cm, tank):
    """Return PAR at points per unit of light on each cell of the bottom, (n, cells).

    What the bottom sends back is linear in the light on its cells, so it is worked out for each
    cell alone once, then multiplied.
    """
    cells = BOTTOM_NODES[0] * BOTTOM_NODES[1]
    alone = LitCells(tank, cells, lit_bottom=np.eye(cells), open_bottom=np.zeros((1, cells)))
    return bottom_return(points_cm, alone)
