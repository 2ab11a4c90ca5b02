"""Light along rays and light by fixture, as a rig works them out."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.optics.intensity_distribution import IntensityDistribution
from apps.photics.optics.ray_geometry import RayGeometry


@dataclass(frozen=True)
class Rays:
    """Light along every ray, (k images, e emitters), and what its derivatives need."""

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


@dataclass(frozen=True)
class FollowedRays:
    """Light along every ray, (k images, e emitters), and what it came by."""

    light: RealArray
    geometry: RayGeometry
    intensity: IntensityDistribution
    lost: RealArray  # on the way through the water [nepers]
    face_cm: RealArray  # (e, 2) emitter offsets after the face factors


@dataclass(frozen=True)
class LightParts:
    """Light of each fixture at full level at n points, and its derivatives [intensity/cm2]."""

    each: RealArray  # (n, F)
    own: RealArray  # (3, n, F) by a fixture's own shifts and height
    common: RealArray  # (SHARED, n, F) by what all fixtures share

    def joined(self, gain: FloatArray) -> tuple[RealArray, RealArray]:
        """Return log light (n,) and its derivatives (n, 4 F + 8) at `gain` (F,), above zero [1]."""
        each = self.each * gain
        total = each.sum(axis=1)
        slopes = np.concatenate([each, *(self.own * gain), (self.common @ gain).T], axis=1)
        return np.log(total), slopes / total[:, None]

    def apart(self) -> list["LightParts"]:
        """Return the LightParts of each fixture alone."""
        names = ("each", "own", "common")
        return [
            LightParts(*(getattr(self, name)[..., k : k + 1].copy() for name in names))
            for k in range(self.each.shape[1])
        ]

    @staticmethod
    def beside(parts: Sequence["LightParts"]) -> "LightParts":
        """Return the LightParts of several sets of fixtures, `parts`, at the same points as one."""
        return LightParts(
            *(
                np.concatenate([getattr(p, name) for p in parts], axis=-1)
                for name in ("each", "own", "common")
            )
        )
