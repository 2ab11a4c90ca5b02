"""How a fitted rig's parameters carry over to the rig after a change of the fixtures.

A calibrated rig is moved, dimmed, given another optic or joined by a like fixture; what the
readings showed of its outputs, beam, water and panes stays. What a change makes unsure is added,
and each such step has a label: two rigs after the same step of a change share its error.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from apps.photics.ground.arrays import FloatArray, IntArray
from apps.photics.ground.scene import Fixture
from apps.photics.optics.beam import half_logcos
from apps.photics.rig.calibration import Calibrated
from apps.photics.rig.changed_optic import RefittedRig
from apps.photics.rig.flux import OF_INTENSITY, flux_of, flux_slopes
from apps.photics.rig.nominal import SHARED
from apps.photics.rig.optic_kinds import (
    OpticsKnown,
    carried_shape,
    optic_of,
    prior_variance,
    usual_shape,
)
from apps.photics.rig.prior import PriorDeviations

# What a change makes unsure: the light an optic passes on [log], and how much of a height's or
# place's old error is a new one after a move [1]. Our own choice.
OPTIC_OUTPUT, NEW_ERROR = 0.08, 0.6
# What of the prior variance of an optic's shape is left where its rays were measured: another
# sample differs less [1]. Our own choice.
MEASURED_PRIOR = 0.1
# A tilt is judged by eye: what that makes unsure of the light it sends into the water [log]. Our
# own choice.
TILT_OUTPUT = 0.05
# How far the output of a like fixture may be from that of the one it is said to equal [log]. Our
# own choice.
LIKE_OUTPUT = 0.12
# Factors nearer than this are one [1]: chosen above what rounding leaves.
SAME_FACTOR = 1e-9
# A fixture loses what was known of its shadows over these moves [cm] and changes of beam [log]. Our
# own choice.
ALONG_CM, UP_CM, WIDTH_LOG = 15.0, 40.0, 1.5


@dataclass(frozen=True)
class Change:
    """How the parameters of the rig after follow from those before: theta_after = T theta + c."""

    rig: RefittedRig
    carry: FloatArray  # T, (4 G + 8 + 3 J, 4 F + 8) [unit after by unit before]
    prior: FloatArray  # after, of those before as first thought, (4 G + 8 + 3 J,) [log, cm]
    theta: FloatArray  # those it is worked out around, (4 G + 8 + 3 J,) [log, cm]
    added: FloatArray  # variance the change adds to each, (4 G + 8 + 3 J,) [squared]
    extra: FloatArray  # of `added`: each output's own deviation, with its sign, (G,) [log]
    whose: tuple[Hashable, ...]  # the same for a fixture in every change, for each, (G,)
    labels: tuple[Hashable, ...]  # which step of a change added it, for each
    source: IntArray  # for each fixture after: which before, (G,)
    kept: FloatArray  # part of what was known of its shadows, (G,) [1]

    @property
    def signs(self) -> FloatArray:
        """Return -1 for parameters whose own deviation, most of their error, is below 0, (p,) [1].

        One error lies the other way round after a change than after one of the other sign.
        """
        signs = np.ones(len(self.added))
        most = 2.0 * self.extra**2 > self.added[: len(self.extra)]
        signs[: len(self.extra)][most & (self.extra < 0)] = -1.0
        return signs


@dataclass(frozen=True)
class Placed:
    """A fixture after a change: the lit one before that it follows, by its place there."""

    place: int
    old: Fixture
    fixture: Fixture
    is_new: bool
    identity: Hashable  # the same in every change from the same fixtures


def change_rig(
    fit: Calibrated,
    before: Sequence[Fixture],
    after: Sequence[Fixture],
    same_as: Sequence[int | None] | None = None,
    deviations: Sequence[float] | None = None,
    *,
    optics: OpticsKnown | None = None,
) -> Change:
    """Return the Change from fixtures before to fixtures after, for a Calibrated rig.

    before: the fixtures as given to the fit, unlit ones too; after: those after the change; for
    each of them same_as has None where it hung before in the same order, else which fixture's
    output it takes, counted from 0; deviations, if given, how far each one's output may be beyond
    that [log], the sign telling which way; optics: what is known of them, what the fit knows where
    None. Raises ValueError where they do not fit together.
    """
    own = [0.0] * len(after) if deviations is None else list(deviations)
    extra = [value for value, fixture in zip(own, after, strict=True) if fixture.level > 0]
    placed = placed_fixtures(fit, before, after, same_as)
    new_optic = new_optics(fit.rig.fixtures, [one.fixture for one in placed])
    fixtures = [one.fixture for one in placed]
    rig = RefittedRig(fit.rig.tank, fixtures, fit.rig.rocks, new_optic, fit.rig.ring)
    follow = Following(fit, rig, optics)
    for k, (one, deviation) in enumerate(zip(placed, extra, strict=True)):
        follow.output(k, one, deviation)
        follow.optic(k, one, int(rig.new_optic[k]))
        follow.place(k, one)
    kept = [0.0 if one.is_new else shadows_kept(one.old, one.fixture) for one in placed]
    return Change(
        rig=rig,
        carry=follow.carry,
        prior=follow.carry @ fit.prior + follow.shift,
        theta=follow.carry @ fit.theta + follow.shift,
        added=follow.added,
        extra=np.array(extra, float),
        whose=tuple(one.identity for one in placed),
        labels=tuple(follow.labels),
        source=np.array([one.place for one in placed]),
        kept=np.array(kept),
    )


def placed_fixtures(
    fit: Calibrated,
    before: Sequence[Fixture],
    after: Sequence[Fixture],
    same_as: Sequence[int | None] | None,
) -> list[Placed]:
    """Return the lit fixtures after a change as Placed; arguments as `change_rig` takes them."""
    pairs = [pair for pair in linked_fixtures(before, after, same_as) if pair[1].level > 0]
    if not pairs:
        raise ValueError("No fixture is lit after the change, so there is no light to foretell.")
    lit = [k for k, fixture in enumerate(before) if fixture.level > 0]
    placed, met = [], dict[Hashable, int]()
    for number, fixture, is_joined in pairs:
        place, is_new = lit_source(before, lit, number, is_joined)
        identity: Hashable = ("hung", number)
        if is_joined:
            name = ("joined", number, fixture.name)
            met[name] = met.get(name, 0) + 1
            identity = (*name, met[name])
        placed.append(Placed(place, fit.rig.fixtures[place], fixture, is_new, identity))
    return placed


class Following:
    """Fills T, c, added variances and labels of a Change, one fixture after the other."""

    def __init__(self, fit: Calibrated, rig: RefittedRig, optics: OpticsKnown | None) -> None:
        self.fit, self.many, self.few, self.known = fit, rig.many, fit.rig.many, optics
        size = 4 * rig.many + SHARED + 3 * rig.optics
        self.carry = np.zeros((size, len(fit.theta)))
        self.shift, self.added = np.zeros(size), np.zeros(size)
        self.labels: list[Hashable] = [None] * size
        shared = np.arange(SHARED)
        self.carry[4 * rig.many + shared, 4 * self.few + shared] = 1.0

    def output(self, k: int, one: Placed, deviation: float) -> None:
        """Enter how the k-th fixture's gain follows, its optic left out.

        deviation: how far its output may be beyond what it follows [log].
        """
        self.carry[k, one.place] = 1.0
        self.shift[k] = np.log(one.fixture.level / one.old.level)
        refitted = optic_of(one.fixture) != optic_of(one.old) and not one.is_new
        tilted = one.fixture.tilt_deg != one.old.tilt_deg
        self.added[k] = deviation**2 + LIKE_OUTPUT**2 * one.is_new
        self.added[k] += OPTIC_OUTPUT**2 * refitted + TILT_OUTPUT**2 * tilted
        self.labels[k] = ("output", one.identity, optic_of(one.fixture), one.fixture.tilt_deg)

    def optic(self, k: int, one: Placed, number: int) -> None:
        """Enter how intensity distribution and gain follow under optic `number`, 0 if known."""
        if number:
            self.new_optic(k, one, number)
        elif optic_of(one.fixture) != optic_of(one.old):
            self.known_optic(k, one)

    def new_optic(self, k: int, one: Placed, number: int) -> None:
        """Enter how a new optic, and the light it passes, follow from the old one."""
        shared = self.fit.theta[4 * self.few :]
        ring = self.fit.rig.ring
        slopes, flux = flux_slopes(one.old, shared, ring), flux_of(one.old, shared, ring)
        # Linear round the fit, exact at it.
        self.carry[k, 4 * self.few + OF_INTENSITY] = slopes
        self.shift[k] += flux - slopes @ shared[OF_INTENSITY]
        own = 4 * self.many + SHARED + 3 * (number - 1) + np.arange(3)
        if one.fixture.optic is None:
            shape = carried_shape(self.optics, one.old, one.fixture)
            self.carry[np.ix_(own, 4 * self.few + OF_INTENSITY)] = shape.carry
            self.shift[own] = shape.mean - shape.carry @ shared[OF_INTENSITY]
            self.added[own] = np.diag(shape.covariance)
        else:
            self.shift[own] = usual_shape(one.fixture, one.fixture.emitter)
            self.added[own] = MEASURED_PRIOR * prior_variance()
        for j, at in enumerate(own):
            self.labels[at] = ("optic", optic_of(one.fixture), j)

    @cached_property
    def optics(self) -> OpticsKnown:
        """Return what is known of the optics."""
        return self.known or self.fit.optics

    def known_optic(self, k: int, one: Placed) -> None:
        """Enter how the gain of a fixture follows under an optic that another had before."""
        shared = self.fit.theta[4 * self.few :]
        ring = self.fit.rig.ring
        slopes = flux_slopes(one.old, shared, ring) - flux_slopes(one.fixture, shared, ring)
        self.carry[k, 4 * self.few + OF_INTENSITY] = slopes
        self.shift[k] += flux_of(one.old, shared, ring) - flux_of(one.fixture, shared, ring)
        self.shift[k] -= slopes @ shared[OF_INTENSITY]

    def place(self, k: int, one: Placed) -> None:
        """Enter how a fixture's errors of place follow from those before."""
        usual = PriorDeviations()
        for block, key, deviation in (
            (1, "x_cm", usual.shift_x_cm),
            (2, "y_cm", usual.shift_y_cm),
            (3, "height_cm", usual.height_cm),
        ):
            at = block * self.many + k
            value = getattr(one.fixture, key)
            moved = getattr(one.old, key) != value
            kept = 0.0 if one.is_new else (1.0 - NEW_ERROR if moved else 1.0)
            self.carry[at, block * self.few + one.place] = kept
            self.added[at] = (1.0 - kept * kept) * deviation**2
            self.labels[at] = (key, one.identity, value)


def new_optics(before: Sequence[Fixture], after: Sequence[Fixture]) -> list[int]:
    """Return for each fixture after 0 where readings know its optic, else which new one it has.

    before: the fixtures that were lit.
    """
    known = {optic_of(fixture): 0 for fixture in before}
    numbers = [known.setdefault(optic_of(fixture), -len(known)) for fixture in after]
    new = {number: k + 1 for k, number in enumerate(dict.fromkeys(n for n in numbers if n))}
    return [new.get(number, 0) for number in numbers]


def linked_fixtures(
    before: Sequence[Fixture], after: Sequence[Fixture], same_as: Sequence[int | None] | None
) -> list[tuple[int, Fixture, bool]]:
    """Return (number before, fixture after, is it new) for each fixture after the change.

    Raises ValueError where `same_as` does not fit the fixtures.
    """
    links = [None] * len(after) if same_as is None else list(same_as)
    if len(links) != len(after):
        raise ValueError("The fixtures after the change need one entry of same_as each.")
    standing = sum(number is None for number in links)
    if standing != len(before):
        raise ValueError(
            f"{len(before)} fixtures hung when the readings were taken, {standing} of them are "
            "listed after the change; list each in its order, with level 0 where it is off."
        )
    pairs, order = [], iter(range(len(before)))
    for fixture, number in zip(after, links, strict=True):
        if number is None:
            pairs.append((next(order), fixture, False))
        elif 0 <= number < len(before):
            pairs.append((int(number), fixture, True))
        else:
            raise ValueError("A new fixture takes its output from one that hung before.")
    return pairs


def level_factor(
    before: Sequence[Fixture], after: Sequence[Fixture], same_as: Sequence[int | None] | None = None
) -> float | None:
    """Return the one factor by which all lit fixtures were dimmed or raised [1].

    Arguments as `change_rig` takes them. None where anything else of them changed too, or each by
    a factor of its own: then the light's ratio differs from place to place.
    """
    pairs = linked_fixtures(before, after, same_as)
    if any(is_new or (f.level > 0) != (before[n].level > 0) for n, f, is_new in pairs):
        return None
    lit = [(before[number], fixture) for number, fixture, _ in pairs if fixture.level > 0]
    if not lit or any(replace(old, level=new.level) != new for old, new in lit):
        return None
    factors = [new.level / old.level for old, new in lit]
    return factors[0] if np.allclose(factors, factors[0], rtol=SAME_FACTOR, atol=0.0) else None


def lit_source(
    before: Sequence[Fixture], lit: Sequence[int], number: int, is_new: bool
) -> tuple[int, bool]:
    """Return the place among the lit fixtures whose output a fixture has, and if it is new.

    One that was off while the readings were taken is as unknown as a new one: it takes the
    output of a lit one like it, else of the first.
    """
    if number in lit:
        return lit.index(number), is_new

    def looks(fixture: Fixture) -> Hashable:
        return (
            fixture.kind, fixture.beam_deg, fixture.panel_x_cm, fixture.panel_y_cm, fixture.optic
        )  # fmt: skip

    alike = [k for k, n in enumerate(lit) if looks(before[n]) == looks(before[number])]
    return (alike or [0])[0], True


def shadows_kept(old: Fixture, fixture: Fixture) -> float:
    """Return the part of what was known of a fixture's shadows that its move leaves [1].

    It falls off exponentially with the move: our own choice.
    """
    along = np.hypot(fixture.x_cm - old.x_cm, fixture.y_cm - old.y_cm)
    up = abs(fixture.height_cm - old.height_cm)
    wider = abs(np.log(half_logcos(fixture.beam_deg) / half_logcos(old.beam_deg)))
    return float(np.exp(-along / ALONG_CM - up / UP_CM - wider / WIDTH_LOG))


def is_in_place(first: Change, second: Change) -> bool:
    """Return whether the rigs after two Changes differ in levels alone."""
    rigs = [[replace(f, level=1.0) for f in change.rig.fixtures] for change in (first, second)]
    return rigs[0] == rigs[1]
