"""Light along rays and light by fixture, as a rig works them out."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.optics.intensity_distribution import IntensityDistribution
from apps.photics.optics.outline_images import PickedRays
from apps.photics.optics.ray_geometry import RayGeometry


@dataclass(frozen=True)
class Rays:
    """Light along every ray, (k, e) for k images and e emitters, and what its derivatives need.

    Light [axial intensity/cm2]; derivatives of its log by what the name says [1/cm, or 1].
    """

    light: RealArray
    by_shift_x: RealArray
    by_shift_y: RealArray
    by_height: RealArray
    by_depth: RealArray
    by_beam: RealArray
    by_edge: RealArray
    by_spill: RealArray
    by_attenuation: RealArray
    face_x_cm: RealArray  # (e,) emitter offsets after the face factors
    face_y_cm: RealArray
    picked: PickedRays | None = None  # which rays they are, in one row, where not all


@dataclass(frozen=True)
class FollowedRays:
    """Light along every ray, (k, e) for k images and e emitters [axial intensity/cm2]."""

    light: RealArray
    geometry: RayGeometry
    intensity: IntensityDistribution
    lost: RealArray  # on the way through the water [nepers]
    face_cm: RealArray  # (e, 2) emitter offsets after the face factors
    picked: PickedRays | None = None  # which rays they are, in one row, where not all


@dataclass(frozen=True)
class LightParts:
    """Light of each fixture at full level at n points, (n, F), and derivatives [intensity/cm2]."""

    each: RealArray  # (n, F)
    own: RealArray  # (3, n, F) by a fixture's own shifts and height
    common: RealArray  # (SHARED, n, F) by what all fixtures share
    daylight: FloatArray  # (n,) PAR of the window, whatever hangs and shines

    def joined(self, gain: FloatArray) -> tuple[RealArray, RealArray]:
        """Return log light (n,) and its derivatives (n, 4 F + 8) at `gain` (F,), above zero [1].

        The derivatives of a log, exact.
        """
        each = self.each * gain
        total = each.sum(axis=1)
        if self.daylight.any():
            total = total + self.daylight
        slopes = np.concatenate([each, *(self.own * gain), (self.common @ gain).T], axis=1)
        return np.log(total), slopes / total[:, None]

    def apart(self) -> list["LightParts"]:
        """Return the LightParts of each fixture alone."""
        return [
            LightParts(
                self.each[:, k : k + 1].copy(),
                self.own[..., k : k + 1].copy(),
                self.common[..., k : k + 1].copy(),
                self.daylight,
            )
            for k in range(self.each.shape[1])
        ]

    @staticmethod
    def beside(parts: Sequence["LightParts"]) -> "LightParts":
        """Return the LightParts of several sets of fixtures, `parts`, at the same points as one."""
        return LightParts(
            np.concatenate([part.each for part in parts], axis=-1),
            np.concatenate([part.own for part in parts], axis=-1),
            np.concatenate([part.common for part in parts], axis=-1),
            parts[0].daylight,
        )
