"""What a new optic has of an old one's beam, edge and spill, where nobody said what shapes either.

Bare diodes, lenses, reflectors and diffusers have edges and spills of their own. Which kind an
optic is follows from its beam's width and, where readings were taken under it, from what they made
of it; the kinds are then weighed together and matched by one mean and one covariance.
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.scene import EMITTERS, Fixture
from apps.photics.rig.flux import OF_INTENSITY
from apps.photics.rig.nominal import BEAM, NOMINAL_SHARED, usual_edge, usual_spill
from apps.photics.rig.prior import PriorDeviations

# How likely each kind is at these widths of the beam [degrees, 1], straight between them: chosen,
# because a diode alone shines about 120 degrees wide, one under a dome 90 or so, a diffusing plate
# nearly as wide as the former; what is narrower is thrown by a lens or a reflector, and nothing
# says which is commoner.
WIDTHS_DEG = (75.0, 95.0, 115.0)
LIKELY = {
    "bare": (0.05, 0.3, 0.5),
    "lens": (0.45, 0.3, 0.15),
    "reflector": (0.45, 0.3, 0.15),
    "diffuser": (0.05, 0.1, 0.2),
}
# Misfits share causes (rocks, an odd optic), so readings are worth less than their number when rigs
# or kinds of optics are compared: their evidence counts by this power [1] (Miller & Dunson 2019,
# doi:10.1080/01621459.2018.1469995); chosen as the round value next to none.
EVIDENCE_POWER = 0.5
# How many times likelier a new optic is of the old one's kind than nothing else told [1]: chosen,
# because the optics that fit one fixture are mostly of one kind.
SAME_KIND = 2.0
# How much of what readings showed of one optic beyond what is usual for its kind (half width, edge
# and spill, as in OF_INTENSITY) is true of another over the same diodes, and what of the prior
# variance before any reading is back [1]. Chosen, because the kind tells the edge alone well, and
# makes differ less than kinds do.
ALIKE, VARIANCE_BACK = np.array([0.7, 1.0, 1.0]), np.array([1.0, 0.5, 1.0])

# The weight of each kind that an optic may be of, summing to 1.
Kinds = Mapping[str, float]
# Beam [degrees], rays where they were measured, and what shapes it.
Optic = tuple[float, object, str]


@dataclass(frozen=True)
class ShapeEvidence:
    """What readings alone say of a rig's half width [log], edge [1] and spill [log].

    A normal law of the three.
    """

    precision: FloatArray  # (3, 3)
    pull: FloatArray  # precision times the likeliest, (3,)


@dataclass(frozen=True)
class OpticsKnown:
    """What readings say of optics: of their rig's, and which kind of optic a later one is."""

    evidence: ShapeEvidence
    kinds: Mapping[Hashable, Kinds] = field(default_factory=dict)

    def kinds_of(self, fixture: Fixture) -> Kinds:
        """Return the weight of each kind that a fixture's optic may be of."""
        return self.kinds.get(optic_of(fixture)) or likely_kinds(fixture)

    def of_kinds(self, fixture: Fixture, kinds: Kinds) -> "OpticsKnown":
        """Return the same with a fixture's optic of other kinds."""
        return replace(self, kinds={**self.kinds, optic_of(fixture): kinds})


@dataclass(frozen=True)
class Carried:
    """How half width [log], edge [1] and spill [log] of a new optic follow from a rig's."""

    mean: FloatArray  # where the rig's are those fitted, (3,) [log, 1, log]
    carry: FloatArray  # by the rig's, (3, 3)
    covariance: FloatArray  # of what that leaves unsure, (3, 3)


@dataclass(frozen=True)
class OfKind:
    """A rig's half width [log], edge [1] and spill [log] if it is of one kind, by a normal law."""

    kind: str
    weight: float
    usual: FloatArray  # of that kind, (3,)
    mean: FloatArray  # by the readings, (3,)
    covariance: RealArray  # (3, 3)


def optic_of(fixture: Fixture) -> Optic:
    """Return what sets one optic apart from another."""
    return fixture.beam_deg, fixture.optic, fixture.emitter


def usual_shape(fixture: Fixture, emitter: str) -> FloatArray:
    """Return the usual half width, edge and spill of a kind of optic, (3,) [log, 1, log]."""
    one = replace(fixture, emitter=emitter)
    return np.array([NOMINAL_SHARED[BEAM], usual_edge(one), usual_spill(one)])


def prior_variance() -> FloatArray:
    """Return the variance of half width, edge and spill before any reading, (3,) [log, 1, log]."""
    usual = PriorDeviations()
    return np.square([usual.beam, usual.edge, usual.spill])


def likely_kinds(fixture: Fixture) -> dict[str, float]:
    """Return the weight of each kind a fixture's optic may be of by its beam, of sum 1 [1]."""
    if fixture.emitter:
        return {fixture.emitter: 1.0}
    weights = {
        kind: float(np.interp(fixture.beam_deg, WIDTHS_DEG, LIKELY[kind])) for kind in EMITTERS
    }
    return {kind: weight / sum(weights.values()) for kind, weight in weights.items()}


def shape_evidence(
    many: int, mean: FloatArray, covariance: FloatArray, prior: FloatArray, unread: FloatArray
) -> ShapeEvidence:
    """Return the ShapeEvidence of a rig's readings, its prior divided out of its posterior.

    Of so `many` fixtures; mean (p,) and covariance (p, p) of the rig's parameters by the readings,
    prior (p,) and `unread` (p, p) those before any [log, cm].
    """
    at = 4 * many + OF_INTENSITY
    after, before = (np.linalg.inv(whole[np.ix_(at, at)]) for whole in (covariance, unread))
    value, vector = np.linalg.eigh(after - before)
    precision = (vector * np.maximum(value, 0.0)) @ vector.T
    return ShapeEvidence(precision, after @ mean[at] - before @ prior[at])


def by_kind(evidence: ShapeEvidence, old: Fixture) -> list[OfKind]:
    """Return what a rig's optic is for each kind it may be of, weighed by what readings say.

    The evidence of each kind is that of a linear Gaussian model (MacKay 1992,
    doi:10.1162/neco.1992.4.3.415).
    """
    back = np.diag(1.0 / (VARIANCE_BACK * prior_variance()))
    covariance = np.linalg.inv(back + evidence.precision)
    rows, logs = [], []
    for kind, weight in likely_kinds(old).items():
        usual = usual_shape(old, kind)
        pull = back @ usual + evidence.pull
        mean = covariance @ pull
        logs.append(np.log(weight) + 0.5 * EVIDENCE_POWER * (pull @ mean - usual @ back @ usual))
        rows.append((kind, usual, mean))
    weights = np.exp(np.array(logs) - max(logs))
    weights /= weights.sum()
    return [
        OfKind(kind, float(weight), usual, mean, covariance)
        for weight, (kind, usual, mean) in zip(weights, rows, strict=True)
    ]


def carried_shape(known: OpticsKnown, old: Fixture, new: Fixture) -> Carried:
    """Return how a new optic's shape follows from an old one's, each of several kinds.

    If both kinds were known, it would follow as ALIKE says; all pairs are weighed together and
    matched by the mean and covariance of old and new shape, from which the new follows by
    regression.
    """
    alike, spread = np.diag(ALIKE), np.diag(VARIANCE_BACK * prior_variance())
    pairs = list(product(by_kind(known.evidence, old), known.kinds_of(new).items()))
    weights = np.array(
        [
            one.weight * weight * (SAME_KIND if one.kind == kind else 1.0)
            for one, (kind, weight) in pairs
        ]
    )
    weights /= weights.sum()
    olds = np.array([one.mean for one, _ in pairs])
    news = np.array(
        [usual_shape(new, kind) + alike @ (one.mean - one.usual) for one, (kind, _) in pairs]
    )
    within = pairs[0][0].covariance
    mean, old_off, new_off = weights @ news, olds - weights @ olds, news - weights @ news
    of_old = within + (weights[:, None] * old_off).T @ old_off
    of_new = alike @ within @ alike + spread + (weights[:, None] * new_off).T @ new_off
    of_both = alike @ within + (weights[:, None] * new_off).T @ old_off
    carry = of_both @ np.linalg.inv(of_old)
    return Carried(mean, carry, of_new - carry @ of_both.T)
