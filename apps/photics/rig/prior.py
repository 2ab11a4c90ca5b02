"""What is known of a rig before any reading: how far its parameters may be from what is said."""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.rig.rig import Rig

# Gains: all fixtures share one unknown meter and output scale; each kind and each fixture differ
# [log]. Chosen wide, so that readings alone decide.
GAIN_ANY, GAIN_KIND = 10.0, 0.5


@dataclass(frozen=True)
class PriorDeviations:
    """How unsure the rig is before any reading: deviations, own and common to all fixtures.

    In the units of the rig's parameters: log, but for shifts and heights [cm] and the edge [1]. Our
    own choice: what a keeper measures with a tape, and lamps of one name differ by.
    """

    gain: float = 0.2
    shift_x_cm: float = 1.6
    shift_y_cm: float = 1.6
    height_cm: float = 1.4
    common_x_cm: float = 0.0
    common_y_cm: float = 0.0
    common_height_cm: float = 0.0
    beam: float = 0.2
    edge: float = 0.5
    spill: float = 1.0
    attenuation: float = 0.8
    pane: float = 0.03
    bottom: float = 0.7
    face: float = 0.02

    def covariance(self, rig: Rig) -> FloatArray:
        """Return the parameters' prior covariance, (4 F + 8, 4 F + 8) [theirs squared].

        What fixtures have in common correlates them, by the law of sums.
        """
        many = rig.many
        kind = [(f.kind, f.beam_deg, f.panel_x_cm, f.panel_y_cm, f.optic) for f in rig.fixtures]
        alike = np.array([[a == b for b in kind] for a in kind], float)
        blocks = [GAIN_ANY**2 + GAIN_KIND**2 * alike + self.gain**2 * np.eye(many)]
        for own, common in (
            (self.shift_x_cm, self.common_x_cm),
            (self.shift_y_cm, self.common_y_cm),
            (self.height_cm, self.common_height_cm),
        ):
            blocks.append(own**2 * np.eye(many) + common**2)
        shared = [self.beam, self.edge, self.spill, self.attenuation]
        shared += [self.pane, self.bottom, self.face, self.face]
        whole = np.zeros((4 * many + len(shared),) * 2)
        for k, block in enumerate(blocks):
            whole[k * many : (k + 1) * many, k * many : (k + 1) * many] = block
        whole[4 * many :, 4 * many :] = np.diag(np.square(shared))
        return whole


@dataclass(frozen=True)
class RigPrior:
    """What is known of a rig in PAR before any reading, outputs included."""

    mean: FloatArray  # (p,) of the parameters [log, cm]
    covariance: FloatArray  # (p, p)
