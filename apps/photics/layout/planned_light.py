"""The light of fixtures that nobody has measured: the rig's light field from their output alone.

The forward model is that of the fitted light field (`rig.py`), its parameters those a rig is
taken for before any reading. The output in umol/s gives the scale, and what is not known of
output, optics, water and hanging gives the interval.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from apps.photics.field.light_field import LightField
from apps.photics.field.light_model import Mixture
from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.estimate import FieldSummary
from apps.photics.ground.extrapolation import span_of
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.normal import NORMAL_90
from apps.photics.ground.scene import Fixture, Rock, Tank
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.flux import (
    ANGLES,
    OF_INTENSITY,
    flux_slopes,
    log_flux,
)
from apps.photics.rig.nominal import (
    BEAM,
    EDGE,
    FACE_X,
    FACE_Y,
    NOMINAL_SHARED,
    SHARED,
    SPILL,
    usual_edge,
    usual_spill,
)
from apps.photics.rig.prior import PriorDeviations
from apps.photics.rig.remainder import REMAINDER
from apps.photics.rig.rig import Rig
from apps.photics.rig.tank_optics import OF_TANK, USUAL_LAW, TankLaw

# By definition of the units [cm2/m2].
CM2_PER_M2 = 1e4
# Log of what turns an output over the flux of an intensity distribution of axial intensity 1 into
# PAR [1], by geometry: the area's unit, and the sum over ANGLES with its width, all round the axis.
AXIAL_TO_PPF = float(np.log(CM2_PER_M2 / (2.0 * np.pi * (np.pi / 2.0 / len(ANGLES)))))


# Edge of a beam of which nobody said what shapes it, narrow and wide ones [degrees, 1]: chosen as
# the middle of what diodes, lenses and reflectors over traced tanks give in the mean.
UNSTATED_DEG, UNSTATED_EDGE = (60.0, 110.0), (1.2, 1.0)
# Spill of a reflector in a plan [1]: chosen, because traced bells with a rim send so much aside.
REFLECTOR_SPILL = 0.2


def planned_shared(law: TankLaw, fixtures: Sequence[Fixture]) -> FloatArray:
    """Return a rig's shared parameters (8,) [log] for fixtures over a tank of a law.

    Edge and spill are those usual for what shapes the beams, in the mean of them.
    """
    shared = law.shared()
    shared[SPILL] = np.mean([planned_spill(fixture) for fixture in fixtures])
    shared[EDGE] = np.mean([planned_edge(fixture) for fixture in fixtures])
    return shared


def planned_edge(fixture: Fixture) -> float:
    """Return the edge a fixture's beam is planned with [1]: our own choice where none is stated."""
    if fixture.emitter or fixture.optic is not None:
        return usual_edge(fixture)
    return float(np.interp(fixture.beam_deg, UNSTATED_DEG, UNSTATED_EDGE))


def planned_spill(fixture: Fixture) -> float:
    """Return the log spill a fixture's beam is planned with [log]."""
    is_reflector = fixture.emitter == "reflector" and fixture.optic is None
    return float(np.log(REFLECTOR_SPILL)) if is_reflector else usual_spill(fixture)


def log_axial(
    *,
    ppf_umol_s: float,
    beam_deg: float,
    optic: MeasuredOptic | None = None,
    shared: FloatArray = NOMINAL_SHARED,
) -> float:
    """Return the log of the axial intensity of an output through an optic [1].

    `ppf_umol_s` the output, above zero [umol/s]; `beam_deg` full width at half maximum, above 0
    and below 180 [degrees]; `optic` the fixture's MeasuredOptic, where it has rays of its own;
    `shared` (8,) a rig's shared parameters [log], the nominal ones when left out. The rig's light
    is per cm2 of a source of axial intensity 1; exp of this times it is PAR.

    >>> narrow = log_axial(ppf_umol_s=100.0, beam_deg=60.0)
    >>> narrow > log_axial(ppf_umol_s=100.0, beam_deg=120.0)
    True
    """
    return float(np.log(ppf_umol_s) + AXIAL_TO_PPF - log_flux(beam_deg, shared, optic))


# How far edge [1] and log spill of an optic lie from what they are planned with, deviations: surer
# where a keeper says what shapes the beam. Chosen, because makes of one kind differ less than kinds
# do, and traced plans lie within their intervals by them.
STATED_OFF, UNSTATED_OFF = (0.35, 0.8), (0.4, 1.0)


@dataclass(frozen=True)
class LikeOptics:
    """Fixtures of a rig whose optics are alike but for their beams, as a Rig of their own."""

    members: tuple[int, ...]  # places in the whole rig
    rig: Rig
    outputs: tuple[OutputEstimate, ...]
    law: TankLaw

    @cached_property
    def theta(self) -> FloatArray:
        """Return the parameters of this Rig in PAR units, (4 g + 8,)."""
        theta = self.rig.nominal()
        theta[4 * self.rig.many :] = planned_shared(self.law, self.rig.fixtures)
        return scaled_by_output(theta, self.rig, self.outputs)

    @cached_property
    def own_root(self) -> FloatArray:
        """Return what errs in these fixtures alone, deviations in rows (k, 4 g + 8) [log, cm].

        Fixtures of one description err alike in output; each is hung with its own error. An
        optic wider or sharper than stated passes on the same light, by the law that energy is
        kept, so its gain falls as it widens.
        """
        many, prior = self.rig.many, PriorDeviations()
        rows = []
        alike = [
            (o, f.kind, f.beam_deg, f.optic)
            for o, f in zip(self.outputs, self.rig.fixtures, strict=True)
        ]
        for one in dict.fromkeys(alike):
            row = np.zeros(4 * many + SHARED)
            row[:many] = [output_deviation(one[0]) * (other == one) for other in alike]
            rows.append(row)
        places = (prior.shift_x_cm, prior.shift_y_cm, prior.height_cm)
        rows += list(
            np.diag(np.repeat((0.0, *places), many), k=0) @ np.eye(4 * many, 4 * many + SHARED)
        )
        stated = bool(self.rig.fixtures[0].emitter)
        edge, spill = STATED_OFF if stated else UNSTATED_OFF
        shared = np.zeros(SHARED)
        shared[[BEAM, EDGE, SPILL, FACE_X, FACE_Y]] = (
            prior.beam, edge, spill, prior.face, prior.face
        )  # fmt: skip
        common = np.zeros((SHARED, 4 * many + SHARED))
        common[:, 4 * many :] = np.diag(shared)
        flux = [flux_slopes(f, self.theta[4 * many :]) for f in self.rig.fixtures]
        common[OF_INTENSITY, :many] = -shared[OF_INTENSITY, None] * np.transpose(flux)
        return np.array([*rows, *common])

    @cached_property
    def tank_root(self) -> FloatArray:
        """Return what errs in the tank, alike for all fixtures: rows (3, 4 g + 8) [log]."""
        root = np.zeros((len(OF_TANK), 4 * self.rig.many + SHARED))
        root[range(len(OF_TANK)), [4 * self.rig.many + k for k in OF_TANK]] = self.law.deviations
        return root


@dataclass(frozen=True)
class PlannedRig:
    """A rig with the outputs of its fixtures; has what a fitted rig has for a light field."""

    rig: Rig
    outputs: tuple[OutputEstimate, ...]  # one for each fixture
    law: TankLaw = USUAL_LAW

    @cached_property
    def as_one(self) -> LikeOptics:
        """Return all fixtures as if one edge and spill were those of all."""
        return LikeOptics(tuple(range(self.rig.many)), self.rig, self.outputs, self.law)

    @property
    def theta(self) -> FloatArray:
        """Return the rig's parameters in PAR units, (4 F + 8,), of one optic for all fixtures."""
        return self.as_one.theta

    @cached_property
    def root(self) -> FloatArray:
        """Return a root of their covariance, deviations in rows (k, 4 F + 8) [log, cm]."""
        return np.concatenate([self.as_one.own_root, self.as_one.tank_root])

    @cached_property
    def like_optics(self) -> tuple[LikeOptics, ...]:
        """Return the fixtures by their optics, in one Rig for those alike."""
        alike: dict[object, list[int]] = {}
        for k, fixture in enumerate(self.rig.fixtures):
            edge = (planned_edge(fixture), planned_spill(fixture))
            alike.setdefault((*edge, fixture.emitter, fixture.optic is None), []).append(k)
        return tuple(
            LikeOptics(
                members=tuple(members),
                rig=Rig(self.rig.tank, [self.rig.fixtures[k] for k in members], self.rig.rocks),
                outputs=tuple(self.outputs[k] for k in members),
                law=self.law,
            )
            for members in alike.values()
        )

    def spread(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return log PAR at points (m,) [log umol m-2 s-1] and what it errs by, (m, k) [log].

        `points_cm` (m, 3) in the tank's frame [cm]. Each of the k columns is the deviation by one
        independent cause: to first order, by the law of propagated errors.
        """
        daylight = self.rig.daylight(points_cm)
        light = np.zeros(len(points_cm))
        own, by_tank = [], np.zeros((len(points_cm), len(OF_TANK)))
        for optics in self.like_optics:
            log_light, slopes = optics.rig.log_light_at(points_cm, optics.theta)
            whole = np.exp(log_light)
            light += whole - daylight
            own.append(whole[:, None] * (slopes @ optics.own_root.T))
            by_tank += whole[:, None] * (slopes @ optics.tank_root.T)
        light += daylight
        return np.log(light), np.concatenate([*own, by_tank], axis=1) / light[:, None]

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points, both (m,) [log umol m-2 s-1].

        `points_cm` (m, 3) in the tank's frame [cm].
        """
        mean, spread = self.spread(points_cm)
        return mean, np.sqrt((spread * spread).sum(axis=1) + REMAINDER**2)


def scaled_by_output(theta: FloatArray, rig: Rig, outputs: Sequence[OutputEstimate]) -> FloatArray:
    """Return a rig's parameters with its gains those of its fixtures' outputs, in PAR units.

    `theta` and what is returned (4 F + 8,).
    """
    scaled = theta.copy()
    for k, (fixture, output) in enumerate(zip(rig.fixtures, outputs, strict=True)):
        scaled[k] += log_axial(
            ppf_umol_s=output.ppf_umol_s,
            beam_deg=fixture.beam_deg,
            optic=fixture.optic,
            shared=theta[4 * rig.many :],
        )
    return scaled


def output_deviation(output: OutputEstimate) -> float:
    """Return the deviation of the log of an output, from its 90 % interval [1]."""
    return float(np.log(output.high_umol_s / output.low_umol_s) / (2.0 * NORMAL_90))


def planned_field(
    tank: Tank,
    fixtures: Sequence[Fixture],
    outputs: Sequence[OutputEstimate],
    rocks: tuple[Rock, ...] = (),
    law: TankLaw = USUAL_LAW,
) -> LightField:
    """Return the LightField of fixtures by their OutputEstimates, before any reading of them.

    `outputs` one for each fixture; `law` that of a usual tank unless a survey measured it.
    Fixtures at level 0 are left out; raises ValueError when none is lit.
    """
    lit = [pair for pair in zip(fixtures, outputs, strict=True) if pair[0].level > 0]
    if not lit:
        raise ValueError("No fixture is lit, so there is no light to plan with.")
    shining = tuple(fixture for fixture, _ in lit)
    planned = PlannedRig(Rig(tank, shining, rocks), tuple(output for _, output in lit), law)
    size = (tank.length_cm, tank.width_cm, tank.depth_cm)
    corners = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)]) * size
    summary = FieldSummary(
        "planned", np.nan, np.empty(0), (), (), ("No reading stands behind it.",)
    )
    model = Mixture((planned,), np.ones(1))
    return LightField(tank, model, span_of(corners, tank), summary, False, shining, rocks=rocks)
