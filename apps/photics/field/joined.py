"""What joined readings of other rigs know of a change: its steps, and the shadows it threw anew."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.photics.field.rig_change import Change, is_in_place, shadows_kept
from apps.photics.ground.arrays import FloatArray
from apps.photics.rig.calibration import Calibrated
from apps.photics.rig.optic_kinds import OpticsKnown


@dataclass(frozen=True)
class Joined:
    """The coefficients, beyond a fit's own, that joined readings bear on; G groups of them."""

    labels: tuple[Hashable, ...]  # a step of a change each, (q,)
    deviations: FloatArray  # before any reading, (q,) [unit of the parameter]
    changes: tuple[Change, ...]  # from the fit's rig to each group's, (G,)
    mixes: FloatArray  # how much each group has of each new remainder, (G, G) [1]

    def columns(self, change: Change, group: int | None = None) -> FloatArray:
        """Return what the coefficients do to a Change's parameters, (p, q) [log, cm].

        group: the one whose own Change it is, which then has all of its steps.
        """
        result, signs = np.zeros((len(change.added), len(self.labels))), change.signs
        places = {label: k for k, label in enumerate(self.labels)}
        for row, (label, variance) in enumerate(zip(change.labels, change.added, strict=True)):
            if variance > 0 and label in places:
                at = places[label]
                result[row, at] = signs[row] * min(self.deviations[at], np.sqrt(variance))
                beyond = places.get((group, label))
                if beyond is not None:
                    result[row, beyond] = self.deviations[beyond]
        return result

    def scale_column(self, group: int) -> FloatArray:
        """Return what the coefficients do to all log readings of a group, (q,) [log]."""
        return np.array(
            [
                deviation if label == ("scale", group) else 0.0
                for label, deviation in zip(self.labels, self.deviations, strict=True)
            ]
        )

    def mix(self, change: Change) -> FloatArray:
        """Return how much of the groups' new remainders a Change's is, (G,) [1]."""
        kin = np.array([likeness(change, other) for other in self.changes])
        # The last of equals: readings of today before those of last year.
        nearest = len(kin) - 1 - int(np.argmax(kin[::-1]))
        mix: FloatArray = kin[nearest] * self.mixes[nearest]
        return mix


@dataclass(frozen=True)
class JointFit(Calibrated):
    """A Calibrated rig whose process holds readings under other rigs as well."""

    joined: Joined
    optics_known: OpticsKnown  # which kinds they are, joined readings heard

    @property
    def optics(self) -> OpticsKnown:
        """Return what the readings of all rigs say of the optics."""
        return self.optics_known


def joined_of(fit: Calibrated) -> Joined | None:
    """Return the Joined of a fit, None where its readings are of one rig."""
    return fit.joined if isinstance(fit, JointFit) else None


def record_of(changes: Sequence[Change], scale_deviations: Sequence[float]) -> Joined:
    """Return the Joined record: a coefficient for each step that a change made unsure.

    scale_deviations: how far the scale of each group's readings may be off [log].
    """
    labels: dict[Hashable, float] = {}
    for k, (change, scale) in enumerate(zip(changes, scale_deviations, strict=True)):
        for label, variance in zip(change.labels, change.added, strict=True):
            if variance <= 0:
                continue
            known = labels.setdefault(label, float(np.sqrt(variance)))
            if variance > known**2 + 1e-12:
                labels[(k, label)] = float(np.sqrt(variance - known**2))
        if scale > 0:
            labels[("scale", k)] = scale
    deviations = np.array(list(labels.values()))
    return Joined(tuple(labels), deviations, tuple(changes), mixes_of(changes))


def mixes_of(changes: Sequence[Change]) -> FloatArray:
    """Return how much each group has of each group's new remainder, (G, G) [1]."""
    mixes = np.eye(len(changes))
    for k, change in enumerate(changes):
        kin = [likeness(change, other) for other in changes[:k]]
        nearest = int(np.argmax(kin)) if kin else 0
        if kin and kin[nearest] > 0:
            mixes[k] = kin[nearest] * mixes[nearest]
            mixes[k, k] = np.sqrt(1.0 - kin[nearest] ** 2)
    return mixes


def likeness(first: Change, second: Change) -> float:
    """Return how much of a rig's new shadows another's are, after two Changes [1]."""
    if is_in_place(first, second):
        return 1.0
    if len(first.source) != len(second.source) or np.any(first.source != second.source):
        return 0.0
    pairs = zip(first.rig.fixtures, second.rig.fixtures, strict=True)
    return float(np.mean([shadows_kept(one, other) for one, other in pairs]))


def at_posterior(fit: Calibrated, change: Change) -> Change:
    """Return a Change worked out around what all readings show, where some were joined."""
    joined = joined_of(fit)
    if joined is None or not joined.labels:
        return change
    mean = fit.gp.coefficients()[0]
    theta = change.prior + change.carry @ (fit.root @ mean)
    theta = theta + joined.columns(change) @ mean[-len(joined.labels) :]
    return replace(change, theta=theta)
