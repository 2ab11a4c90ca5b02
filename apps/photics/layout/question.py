"""What is asked of a layout: zones with their bands, fixtures to choose from, limits."""

from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.scene import Rock, Tank
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.tank_optics import USUAL_LAW, TankLaw

# Points a zone is looked at: about this far apart [cm], within these counts along x, y, depth.
POINT_PITCH_CM = 8.0
FEWEST, MOST = (4, 3, 2), (8, 5, 3)
# How far past the panes the end of a tube or bar may stand where no canopy forbids it [cm].
OVERHANG_CM = 5.0


@dataclass(frozen=True)
class Zone:
    """A box of the water and the PAR band wanted in it [cm, umol m-2 s-1]."""

    name: str
    x_cm: tuple[float, float]
    y_cm: tuple[float, float]
    depth_cm: tuple[float, float]
    low_umol: float
    high_umol: float
    weight: float = 1.0

    def points(self, rocks=(), *, finer=1):
        """Return points of the zone in open water, (n, 3); `finer` times as many a side.

        What lies in a rock or under one counts for nothing: no layout lights it.
        """
        axes = []
        ends = (self.x_cm, self.y_cm, self.depth_cm)
        for (start, end), fewest, most in zip(ends, FEWEST, MOST, strict=True):
            many = int(np.clip(np.ceil((end - start) / POINT_PITCH_CM), fewest, most)) * finer
            axes.append(start + (np.arange(many) + 0.5) / many * (end - start))
        points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
        x, y, depth = points.T
        hidden = np.zeros(len(points), bool)
        for rock in rocks:
            hidden |= rock.holds(x, y, np.clip(depth, None, rock.depth_cm + rock.height_cm / 2))
        return points[~hidden] if not hidden.all() else points


@dataclass(frozen=True)
class Candidate:
    """A fixture that may hang, with the optics it can carry; price and watts may be unknown."""

    name: str
    kind: str  # "puck", "panel", "tube" or "bar"
    panel_x_cm: float
    panel_y_cm: float
    beams_deg: tuple[float, ...]
    output: OutputEstimate
    watts: float | None = None
    price: float | None = None
    owned: int = 0  # how many one has already
    # What it was measured to send, and the beam of that optic: with another lens it sends that.
    optic: MeasuredOptic | None = None
    optic_beam_deg: float = 0.0

    def optic_at(self, beam_deg):
        """Return the MeasuredOptic it has at a beam, None for the plain lobe."""
        return self.optic if beam_deg == self.optic_beam_deg else None

    @property
    def fills(self):
        """Return whether it is long and soft enough to fill the shadows of others."""
        return self.kind in ("tube", "bar")


@dataclass(frozen=True)
class Limits:
    """What hanging allows: heights and middles [cm], how many, money and power."""

    height_cm: tuple[float, float]
    x_cm: tuple[float, float]
    y_cm: tuple[float, float]
    count: int
    fill_count: int = 0  # tubes or bars beside others; 0 tries no mixed rig
    budget: float | None = None
    watts: float | None = None
    canopy: bool = False


@dataclass(frozen=True)
class Question:
    tank: Tank
    zones: tuple[Zone, ...]
    candidates: tuple[Candidate, ...]
    limits: Limits
    rocks: tuple[Rock, ...] = field(default=())
    law: TankLaw = USUAL_LAW

    def lowered(self, by_cm):
        """Return the question with its zones deeper by `by_cm`, as far as the water reaches."""
        moved = []
        for zone in self.zones:
            start, end = zone.depth_cm
            way = min(max(by_cm, -start), self.tank.depth_cm - end)
            moved.append(replace(zone, depth_cm=(start + way, end + way)))
        return replace(self, zones=tuple(moved))


@dataclass(frozen=True)
class Choice:
    """Which fixtures hang, not yet where: one kind, and perhaps tubes or bars beside it."""

    main: int
    beam_deg: float
    count: int
    fill: int | None = None
    fill_beam_deg: float = 0.0
    fill_count: int = 0


def price_of(question, choice):
    """Return what has still to be bought, None where a price is not known."""
    total = 0.0
    for number, count in ((choice.main, choice.count), (choice.fill, choice.fill_count)):
        if number is None:
            continue
        candidate = question.candidates[number]
        missing = max(count - candidate.owned, 0)
        if missing and candidate.price is None:
            return None
        total += missing * (candidate.price or 0.0)
    return total


def watts_of(question, choice):
    """Return the rated watts of a choice at full level, None where they are not known [W]."""
    total = 0.0
    for number, count in ((choice.main, choice.count), (choice.fill, choice.fill_count)):
        if number is None:
            continue
        if question.candidates[number].watts is None:
            return None
        total += count * question.candidates[number].watts
    return total


def choices(question):
    """Return every Choice the limits allow, fewest fixtures first."""
    limits, found = question.limits, []
    numbered = list(enumerate(question.candidates))
    for count, (main, candidate) in product(range(1, limits.count + 1), numbered):
        for beam in candidate.beams_deg:
            found.append(Choice(main, beam, count))
            if candidate.fills:
                continue
            for (fill, tube), many in product(numbered, range(1, limits.fill_count + 1)):
                if tube.fills:
                    found.append(Choice(main, beam, count, fill, tube.beams_deg[0], many))
    return tuple(choice for choice in found if allowed(question, choice))


def allowed(question, choice):
    """Return whether a choice keeps the budget, the power and the room there is."""
    limits = question.limits
    price, watts = price_of(question, choice), watts_of(question, choice)
    if limits.budget is not None and price is not None and price > limits.budget + 1e-9:
        return False
    if limits.watts is not None and watts is not None and watts > limits.watts + 1e-9:
        return False
    parts = [number for number in (choice.main, choice.fill) if number is not None]
    return all(room(question, question.candidates[number]) is not None for number in parts)


def room(question, candidate):
    """Return where the middle of a fixture may hang, ((x, x), (y, y)) [cm], None where nowhere."""
    limits, tank = question.limits, question.tank
    over = OVERHANG_CM if candidate.fills and not limits.canopy else 0.0
    ranges = []
    for (start, end), side, size in (
        (limits.x_cm, tank.length_cm, candidate.panel_x_cm),
        (limits.y_cm, tank.width_cm, candidate.panel_y_cm),
    ):
        low, high = size / 2 - over, side - size / 2 + over
        if low > high and not limits.canopy:
            # Larger than the tank: over its middle or nowhere.
            low = high = side / 2
        low, high = max(start, low), min(end, high)
        if low > high + 1e-9:
            return None
        ranges.append((low, max(high, low)))
    return tuple(ranges)
