"""The question of a layout: zones with their bands, fixtures to choose from, limits."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.scene import Rock, Tank, solids
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.tank_optics import USUAL_LAW, TankLaw

# Points a zone is looked at: about this far apart [cm], within these counts along x, y, depth [1].
# Chosen, because a search looks at them thousands of times, and light changes little between.
POINT_PITCH_CM = 8.0
FEWEST, MOST = (4, 3, 2), (8, 5, 3)
# How a fixture turned by more than this off a right angle is no longer one with its mirror image
# [degrees]: chosen as dust.
TURNED_DEG = 1e-6
# Middles of fixtures, (x, y) of each [cm].
Places = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Zone:
    """A box of the water and the PAR band wanted in it [cm, umol m-2 s-1].

    `high_umol` is infinite where nothing is too bright. Where `high_is_soft`, light above it asks
    for care and no more: the zone is in its band from `low_umol` up.
    """

    name: str
    x_cm: tuple[float, float]
    y_cm: tuple[float, float]
    depth_cm: tuple[float, float]
    low_umol: float
    high_umol: float
    weight: float = 1.0
    high_is_soft: bool = False

    @property
    def top_umol(self) -> float:
        """Return above which PAR the zone is out of its band, infinite for none [umol m-2 s-1]."""
        return np.inf if self.high_is_soft else self.high_umol

    def points(
        self, rocks: Sequence[Rock] = (), *, tank: Tank | None = None, finer: int = 1
    ) -> FloatArray:
        """Return points of the zone in open water, (n, 3) [cm]; `finer` times as many a side.

        What lies in a rock or under one counts for nothing: no layout lights it. Nor does what
        lies outside the panes of the `tank`; without one the zone is all water. Evenly spaced, each
        in the middle of its part of a side: our own choice.
        """
        points = self.lattice(finer)
        hidden = self.hides(points, rocks, tank)
        return points[~hidden] if not hidden.all() else points

    def is_dry(self, tank: Tank, rocks: Sequence[Rock] = ()) -> bool:
        """Return whether none of its points lies in open water of a tank."""
        return bool(self.hides(self.lattice(), rocks, tank).all())

    def lattice(self, finer: int = 1) -> FloatArray:
        """Return evenly spaced points of the whole box, (n, 3) [cm], `finer` times as many a side.

        Each in the middle of its part of a side: our own choice.
        """
        axes = []
        ends = (self.x_cm, self.y_cm, self.depth_cm)
        for (start, end), fewest, most in zip(ends, FEWEST, MOST, strict=True):
            many = int(np.clip(np.ceil((end - start) / POINT_PITCH_CM), fewest, most)) * finer
            axes.append(start + (np.arange(many) + 0.5) / many * (end - start))
        return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)

    @staticmethod
    def hides(points_cm: FloatArray, rocks: Sequence[Rock], tank: Tank | None) -> BoolArray:
        """Return which points (n, 3) [cm] lie in or under a rock or outside the panes, (n,)."""
        x, y, depth = points_cm.T
        hidden = np.zeros(len(points_cm), bool)
        if tank is not None:
            hidden |= tank.outside(x, y)
            rocks = solids(tank, rocks)
        for rock in rocks:
            hidden |= rock.holds(x, y, np.clip(depth, None, rock.depth_cm + rock.height_cm / 2))
        return hidden


@dataclass(frozen=True)
class Candidate:
    """A fixture that may hang, with the optics it can carry; price and watts may be unknown.

    The price is in any one unit, that of the budget.
    """

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
    emitter: str = ""  # what shapes its beam, one of EMITTERS, "" where nobody said
    # Where it hangs and stays, all of them at one height; none where it may hang anywhere.
    kept_at_cm: Places = ()
    kept_height_cm: float = 0.0
    turn_deg: float = 0.0
    tilt_deg: float = 0.0

    @property
    def is_kept(self) -> bool:
        """Return whether it hangs already and stays where it is."""
        return bool(self.kept_at_cm)

    @property
    def is_mirrored(self) -> bool:
        """Return whether, hung, it is one with its mirror images but for its optic."""
        return self.tilt_deg == 0.0 and abs(self.turn_deg % 90.0) < TURNED_DEG

    @property
    def sides_cm(self) -> tuple[float, float]:
        """Return how long the lit face lies along x and along y [cm], by geometry."""
        turn = np.radians(self.turn_deg)
        along, across = abs(float(np.cos(turn))), abs(float(np.sin(turn)))
        return (
            along * self.panel_x_cm + across * self.panel_y_cm,
            across * self.panel_x_cm + along * self.panel_y_cm,
        )

    def lying_over(self, tank: Tank) -> "Candidate":
        """Return it turned by a right angle where it fits over a tank so and only so."""
        along, across = self.sides_cm
        fits = along <= tank.length_cm and across <= tank.width_cm
        fits_turned = across <= tank.length_cm and along <= tank.width_cm
        return replace(self, turn_deg=90.0) if fits_turned and not fits else self

    def optic_at(self, beam_deg: float) -> MeasuredOptic | None:
        """Return the MeasuredOptic it has at a beam [degrees], None for the nominal one."""
        return self.optic if beam_deg == self.optic_beam_deg else None

    @property
    def fills(self) -> bool:
        """Return whether it is long and soft enough to fill the shadows of others."""
        return self.kind in ("tube", "bar")


@dataclass(frozen=True)
class Limits:
    """What hanging allows: heights and middles [cm], how many, money and power [W]."""

    height_cm: tuple[float, float]
    x_cm: tuple[float, float]
    y_cm: tuple[float, float]
    count: int  # of fixtures, those that stay included; tubes and bars beside others are not
    fill_count: int = 0  # tubes or bars beside others, at most
    budget: float | None = None
    watts: float | None = None
    canopy: bool = False


@dataclass(frozen=True)
class Question:
    """What a search works on: the box, its zones, what may hang and within which limits."""

    tank: Tank
    zones: tuple[Zone, ...]
    candidates: tuple[Candidate, ...]
    limits: Limits
    rocks: tuple[Rock, ...] = field(default=())
    law: TankLaw = USUAL_LAW

    def lowered(self, by_cm: float) -> "Question":
        """Return the question with its zones deeper by so much, as far as there is water [cm]."""
        moved = []
        for zone in self.zones:
            start, end = zone.depth_cm
            down = min(max(by_cm, -start), self.tank.depth_cm - end)
            moved.append(replace(zone, depth_cm=(start + down, end + down)))
        return replace(self, zones=tuple(moved))
