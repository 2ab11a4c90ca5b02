"""Light along rays and light by fixture, as a rig works them out."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.optics.beam import FROM_WATER, Images, look_up
from apps.photics.optics.intensity_distribution import IntensityDistribution
from apps.photics.optics.orientation import Orientations
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
class Emitters:
    """Where and how e emitters shine, or the emitters of r picked rays, arrays (e,) or (r,)."""

    x_cm: RealArray
    y_cm: RealArray
    height_cm: RealArray
    half: RealArray  # half width of the beam, as `beam.intensity` takes it [1]
    spill: RealArray  # as `beam.intensity` takes it [1]
    cell_cm: RealArray  # (e, 2) what each stands for
    face_cm: RealArray  # (e, 2) offsets in the lit face
    frames: Orientations | None  # those of their fixtures, where one is tilted or measured

    def of_rays(self, picked: PickedRays, frames: Orientations | None) -> "Emitters":
        """Return the emitter of each picked ray, with the `frames` of these."""
        at = picked.emitter
        return Emitters(
            x_cm=self.x_cm[at],
            y_cm=self.y_cm[at],
            height_cm=self.height_cm[at],
            half=self.half[at],
            spill=self.spill[at],
            cell_cm=self.cell_cm[at],
            face_cm=self.face_cm[at],
            frames=frames,
        )


@dataclass(frozen=True)
class RayEnds:
    """Where rays start and end, arrays (k, 1) for k images, or (1, r) for r picked rays."""

    start: Emitters
    x_cm: RealArray
    y_cm: RealArray
    depth_cm: RealArray
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


def left_by_panes(
    images: Images, geometry: RayGeometry, log_quality: np.floating, picked: PickedRays | None
) -> RealArray:
    """Return what is left of each ray after its panes, (k, e) [1], by the log of their quality.

    `picked`: the rays these are, where they are not all.
    """
    if picked is None:
        return mirrored(images, geometry, log_quality)
    per_cm = np.sqrt(geometry.sin2_water) / np.maximum(geometry.away, 1e-9)
    return picked.mirrored((geometry.dx * per_cm, geometry.dy * per_cm), quality=float(log_quality))


def mirrored(images: Images, geometry: RayGeometry, log_quality: np.floating) -> RealArray:
    """Return what is left of each ray after its panes, (k, e) [1].

    Fresnel at the pane, times its quality, given as `log_quality` [1].
    """
    dx, dy = geometry.dx, geometry.dy
    sine_per_cm = np.sqrt(geometry.sin2_water) / np.maximum(geometry.away, 1e-9)
    left = np.exp(log_quality * (images.bounces_x + images.bounces_y))
    left = np.broadcast_to(left, dx.shape).copy()
    for bounces, way in ((images.bounces_x, dx), (images.bounces_y, dy)):
        hit = np.nonzero(bounces[:, 0])[0]
        cosine = np.abs(way[hit]) * sine_per_cm[hit]
        returned = look_up(FROM_WATER, cosine)
        # Most meet the pane once, and a power costs more than all else here.
        often = np.nonzero(bounces[hit, 0] > 1)[0]
        returned[often] **= bounces[hit[often]]
        left[hit] *= returned
    return left
