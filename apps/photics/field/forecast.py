"""The light after a change, from readings taken before it.

A calibrated rig is moved, dimmed, given another optic or joined by a like fixture; what the
readings told of its outputs, beam, water and panes stays. What they told beyond the rig (rocks,
an odd optic) is carried fixture by fixture: each owns a part of it in proportion to its light
there, keeps it while it hangs still, and loses it as it moves. So fixtures alone add up to all
together, a dimmed rig dims the map exactly, and no change changes nothing.
"""

from dataclasses import dataclass

import numpy as np

from apps.photics.optics.beam import half_logcos
from apps.photics.rig.calibration import Calibrated, PriorDeviations
from apps.photics.rig.changed_optic import RefittedRig
from apps.photics.rig.flux import OF_INTENSITY, flux_of, flux_slopes
from apps.photics.rig.rig import (
    BEAM,
    CHUNK_POINTS,
    NOMINAL_SHARED,
    SHARED,
    SPILL,
    usual_edge,
)

# Part of the unexplained that all fixtures have in common (water, bottom, the meter) [1]; the
# rest each has of its own. House rule.
IN_COMMON = 0.5
# What a change makes unsure: the light an optic passes on [log], and how much of a height's or
# place's old error is a new one after a move [1].
OPTIC_OUTPUT, NEW_ERROR = 0.08, 0.5
# How much of what readings told of one optic beyond what is usual for its beam (half width, edge
# and spill, as in OF_INTENSITY) is true of another over the same diodes, and what of the prior
# deviation before any reading is back [1]. Optics of one make share their kind of edge and spill,
# less so how far the beam is from the one named; but the new one may be of another make. House
# rule.
OPTIC_ALIKE, OPTIC_DOUBT = np.array([0.7, 1.0, 1.0]), 0.75
# The same for an optic whose rays were measured: another sample differs less [1].
MEASURED_DOUBT = 0.1
# A tilt is told by eye: what that makes unsure of the light it sends into the water [log].
TILT_OUTPUT = 0.05
# How far the output of a like fixture may be from that of the one it is said to equal [log].
LIKE_OUTPUT = 0.12
# A fixture loses what was known of its shadows over these moves [cm] and changes of beam [log].
ALONG_CM, UP_CM, WIDTH_LOG = 15.0, 40.0, 1.5


@dataclass(frozen=True)
class Change:
    """How the parameters of the rig after follow from those before: theta_after = T theta + c."""

    rig: RefittedRig
    carry: np.ndarray  # T, (4 G + 8 + 3 J, 4 F + 8)
    theta: np.ndarray  # the rig's parameters after, (4 G + 8 + 3 J,)
    added: np.ndarray  # variance the change adds to each, (4 G + 8 + 3 J,)
    source: np.ndarray  # for each fixture after: which before, (G,)
    kept: np.ndarray  # share of what was known of its shadows, (G,)


@dataclass(frozen=True)
class Forecast:
    """A Calibrated rig after a Change; `rig` and `theta` are those after it."""

    before: Calibrated
    change: Change

    @property
    def rig(self):
        """Return the rig after the change."""
        return self.change.rig

    @property
    def theta(self):
        """Return the parameters of the rig after the change."""
        return self.change.theta

    def predict(self, points_cm):
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,)."""
        parts = [
            self.predict_few(points_cm[k : k + CHUNK_POINTS])
            for k in range(0, len(points_cm), CHUNK_POINTS)
        ]
        return tuple(np.concatenate(part) for part in zip(*parts, strict=True))

    def predict_few(self, points_cm):
        """Return what `predict` does, for as many points as fit a chunk."""
        old, change = self.before, self.change
        _, old_slopes = old.rig.log_light_at(points_cm, old.theta)
        log_light, slopes = change.rig.log_light_at(points_cm, change.theta)
        smooth = old.gp.remainder_at(points_cm)

        def parts(*changed):
            return old.gp.predict_parts(smooth, *changed)

        return self.predicted(old_slopes, log_light, slopes, parts)

    def predicted(self, old_slopes, log_light, slopes, parts):
        """Return what `predict` does from both rigs' light at points (m,) and its derivatives.

        parts: `Residual.predict_parts` at the points, from a basis (m, p) on.
        """
        old, change = self.before, self.change
        # The derivative by a log gain is the fixture's share of the light.
        carried, own = self.carried(old_slopes[:, : old.rig.many], slopes[:, : change.rig.many])
        linked = slopes @ change.carry
        trend, rest, variance = parts(linked @ old.root, carried, own)
        shift = linked @ (old.prior - old.theta) + trend
        variance = variance + (slopes * slopes) @ change.added
        return log_light + shift + np.log1p(carried * np.expm1(rest)), np.sqrt(variance)

    def carried(self, before, after):
        """Return how much of the unexplained a point keeps, and its variance against before's.

        before (m, F) and after (m, G): the fixtures' shares of the light. With a common and an
        own part of equal law for each fixture, what each has of the whole follows by regression.
        """
        change, apart = self.change, 1.0 - IN_COMMON
        whole = IN_COMMON + apart * (before * before).sum(axis=1)
        each = (IN_COMMON + apart * before[:, change.source]) / whole[:, None]
        own = (IN_COMMON + apart * (after * after).sum(axis=1)) / whole
        carried = (after * change.kept * each).sum(axis=1)
        return carried, np.maximum(own, carried * carried)


def change_rig(fit, before, after, same_as, doubt=None):
    """Return the Change from fixtures before to fixtures after, for a Calibrated rig.

    before: the fixtures as given to the fit, unlit ones too; after: those after the change; for
    each of them same_as has None where it hung before in the same order, else which fixture's
    output it takes, counted from 0; doubt, if given, the deviation of each one's output beyond
    that [log]. Raises ValueError where they do not fit together.
    """
    doubt = [0.0] * len(after) if doubt is None else list(doubt)
    extra = [own for own, fixture in zip(doubt, after, strict=True) if fixture.level > 0]
    pairs = [pair for pair in linked_fixtures(before, after, same_as) if pair[1].level > 0]
    if not pairs:
        raise ValueError("No fixture is lit after the change, so there is no light to foretell.")
    lit = [k for k, fixture in enumerate(before) if fixture.level > 0]
    placed = [(*lit_source(before, lit, number, new), fixture) for number, fixture, new in pairs]
    fixtures = [fixture for _, _, fixture in placed]
    new_optic = new_optics(fit.rig.fixtures, fixtures)
    rig = RefittedRig(fit.rig.tank, fixtures, fit.rig.rocks, new_optic)
    many, few = rig.many, fit.rig.many
    size = 4 * many + SHARED + 3 * rig.optics
    carry, shift, added = np.zeros((size, len(fit.theta))), np.zeros(size), np.zeros(size)
    shared = np.arange(SHARED)
    carry[4 * many + shared, 4 * few + shared] = 1.0
    for k, (place, is_new, fixture) in enumerate(placed):
        old = fit.rig.fixtures[place]
        carry[k, place] = 1.0
        shift[k] = np.log(fixture.level / old.level)
        added[k] = extra[k] ** 2 + (LIKE_OUTPUT**2 if is_new else 0.0)
        if new_optic[k]:
            follow_optic(k, new_optic[k], (old, fixture), fit, (many, few), carry, shift, added)
        elif optic_of(fixture) != optic_of(old):
            known_optic(k, (old, fixture), fit, few, carry, shift)
        if optic_of(fixture) != optic_of(old) and not is_new:
            added[k] += OPTIC_OUTPUT**2
        if fixture.tilt_deg != old.tilt_deg:
            added[k] += TILT_OUTPUT**2
        follow_place(k, place, old, fixture, is_new, (many, few), carry, added)
    source = np.array([place for place, _, _ in placed])
    kept = [
        0.0 if is_new else shadows_kept(fit.rig.fixtures[place], fixture)
        for place, is_new, fixture in placed
    ]
    return Change(rig, carry, carry @ fit.theta + shift, added, source, np.array(kept))


def optic_of(fixture):
    """Return what tells one optic from another."""
    return fixture.beam_deg, fixture.optic


def new_optics(before, after):
    """Return for each fixture after 0 where readings know its optic, else which new one it has.

    before: the fixtures that were lit.
    """
    known = {optic_of(fixture): 0 for fixture in before}
    numbers = [known.setdefault(optic_of(fixture), -len(known)) for fixture in after]
    new = {number: k + 1 for k, number in enumerate(dict.fromkeys(n for n in numbers if n))}
    return [new.get(number, 0) for number in numbers]


def follow_optic(k, optic, pair, fit, counts, carry, shift, added):
    """Enter how a new optic's lobe, and the light it passes, follow from the old one's."""
    many, few = counts
    old, fixture = pair
    shared, doubt = fit.theta[4 * few :], PriorDeviations()
    slopes, flux = flux_slopes(old, shared), flux_of(old, shared)
    # Linear round the fit, exact at it.
    carry[k, 4 * few + OF_INTENSITY] = slopes
    shift[k] += flux - slopes @ shared[OF_INTENSITY]
    own = 4 * many + SHARED + 3 * (optic - 1) + np.arange(3)
    deviation = np.array([doubt.beam, doubt.edge, doubt.spill])
    alike = OPTIC_ALIKE if fixture.optic is None else np.zeros(3)
    carry[own, 4 * few + OF_INTENSITY] = alike
    usual = np.array([NOMINAL_SHARED[BEAM], usual_edge(fixture), NOMINAL_SHARED[SPILL]])
    # Alike is how far each is from what is usual for its beam.
    shift[own] = usual - alike * fit.prior[4 * few + OF_INTENSITY]
    wide = OPTIC_DOUBT if fixture.optic is None else MEASURED_DOUBT
    added[own] = wide * deviation**2


def known_optic(k, pair, fit, few, carry, shift):
    """Enter how the gain of a fixture follows under an optic that another had before."""
    shared = fit.theta[4 * few :]
    old, fixture = pair
    slopes = flux_slopes(old, shared) - flux_slopes(fixture, shared)
    carry[k, 4 * few + OF_INTENSITY] = slopes
    shift[k] += flux_of(old, shared) - flux_of(fixture, shared) - slopes @ shared[OF_INTENSITY]


def follow_place(k, place, old, fixture, is_new, counts, carry, added):
    """Enter into carry and added how a fixture's errors of place follow from those before."""
    many, few = counts
    doubt = PriorDeviations()
    for block, key, deviation in (
        (1, "x_cm", doubt.shift_x_cm),
        (2, "y_cm", doubt.shift_y_cm),
        (3, "height_cm", doubt.height_cm),
    ):
        moved = getattr(old, key) != getattr(fixture, key)
        kept = 0.0 if is_new else (1.0 - NEW_ERROR if moved else 1.0)
        carry[block * many + k, block * few + place] = kept
        added[block * many + k] = (1.0 - kept * kept) * deviation**2


def linked_fixtures(before, after, same_as):
    """Return (number before, fixture after, is it new) for each fixture after the change."""
    same_as = [None] * len(after) if same_as is None else list(same_as)
    if len(same_as) != len(after):
        raise ValueError("The fixtures after the change need one entry of same_as each.")
    standing = sum(number is None for number in same_as)
    if standing != len(before):
        raise ValueError(
            f"{len(before)} fixtures hung when the readings were taken, {standing} of them are "
            "listed after the change; list each in its order, with level 0 where it is off."
        )
    pairs, order = [], iter(range(len(before)))
    for fixture, number in zip(after, same_as, strict=True):
        if number is None:
            pairs.append((next(order), fixture, False))
        elif 0 <= number < len(before):
            pairs.append((int(number), fixture, True))
        else:
            raise ValueError("A new fixture takes its output from one that hung before.")
    return pairs


def lit_source(before, lit, number, is_new):
    """Return the place among the lit fixtures that tells a fixture's output, and if it is new.

    One that was off while the readings were taken is as unknown as a new one: it takes the
    output of a lit one like it, else of the first.
    """
    if number in lit:
        return lit.index(number), is_new

    def looks(fixture):
        return (
            fixture.kind, fixture.beam_deg, fixture.panel_x_cm, fixture.panel_y_cm, fixture.optic
        )  # fmt: skip

    alike = [k for k, n in enumerate(lit) if looks(before[n]) == looks(before[number])]
    return (alike or [0])[0], True


def shadows_kept(old, fixture):
    """Return the share of what was known of a fixture's shadows that its move leaves [1]."""
    along = np.hypot(fixture.x_cm - old.x_cm, fixture.y_cm - old.y_cm)
    up = abs(fixture.height_cm - old.height_cm)
    wider = abs(np.log(half_logcos(fixture.beam_deg) / half_logcos(old.beam_deg)))
    return float(np.exp(-along / ALONG_CM - up / UP_CM - wider / WIDTH_LOG))
