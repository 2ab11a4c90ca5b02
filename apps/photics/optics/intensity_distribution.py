"""The intensity of emitters along rays, and how its log changes with what shapes it."""

from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import RealArray
from apps.photics.optics.beam import LN2
from apps.photics.optics.orientation import BEHIND, RayDirections

# The core's fall is cut here, chosen because exp(-exp(6)) is nothing in any precision
# [log of nepers].
FALL_MOST = 6.0
# How wide a ring is in ln u, twice that in the log of the angle [1]: our own choice.
RING_WIDTH = 0.3


@dataclass(frozen=True)
class Ring:
    """A second law beside core and spill: a ring of light round the core, as lenses throw.

    Its intensity is `strength` times a bell in ln(u / half) about `place`, RING_WIDTH wide [1].
    """

    strength: float  # where it is brightest, for an axial core of 1 [1]
    place: float

    def bell(self, log_u: RealArray) -> tuple[RealArray, RealArray]:
        """Return the bell at `log_u` = ln(u / half), any shape, and minus its log slope there [1].

        Gauss's bell by definition.
        """
        away = (log_u - self.place) * (1.0 / RING_WIDTH)
        return np.exp(-0.5 * away * away), away * (1.0 / RING_WIDTH)


@dataclass(frozen=True)
class IntensityDistribution:
    """Intensity along rays (k, e), 1 + spill along the axis, by the law of `beam.intensity`.

    And a Ring, where the optic throws one.

    Where RayDirections are given, fixtures are tilted or have rays of their own: `measured_ratio`
    is what of the model intensity leaves [1], and its derivatives are in `by_direction` too.
    """

    shape: RealArray  # core, spill and ring together [1]
    core: RealArray
    fall: RealArray  # -ln core
    steep: RealArray  # by how much core and ring fall with ln u [1]
    u: RealArray  # -ln cos of the angle from the axis
    log_u: RealArray  # ln of u over the beam's half width in that scale
    edge: float
    spill: RealArray  # (e,)
    cosine: RealArray  # from the fixture's axis
    directions: RayDirections | None
    measured_ratio: RealArray | None
    measured_slopes: tuple[RealArray, RealArray] | None  # of its log by slope and azimuth

    @property
    def light(self) -> RealArray:
        """Return the intensity, (k, e) [1]."""
        return self.shape if self.measured_ratio is None else self.shape * self.measured_ratio

    def by_direction(
        self, slope: RealArray, *, cos: RealArray, cos2: RealArray
    ) -> tuple[RealArray, RealArray | None]:
        """Return derivatives of the log by the ray's slope [1] and azimuth [1/rad], (k, e) each.

        `slope` tangent in air, `cos` its cosine and `cos2` that squared, (k, e) [1]. None in place
        of the azimuth's where all fixtures send alike all round.
        """
        if self.directions is None or self.measured_slopes is None:
            by_slope: RealArray = (
                self.steep / self.u * -slope * cos2 - self.spill * slope * cos2 * cos
            ) / self.shape
            return by_slope, None
        by_cosine = self.steep / (self.u * self.cosine) + self.spill
        by_slope, by_azimuth = self.directions.chained(by_cosine / self.shape)
        return by_slope + self.measured_slopes[0], by_azimuth + self.measured_slopes[1]

    @property
    def by_beam(self) -> RealArray:
        """The derivative of the log by the log factor on the beam's half width, (k, e) [1]."""
        return self.steep / self.shape

    @property
    def by_edge(self) -> RealArray:
        """The derivative of the log by the edge, (k, e) [1]."""
        return -self.core * self.fall * self.log_u / self.shape

    @property
    def by_spill(self) -> RealArray:
        """The derivative of the log by the log of the spill, (k, e) [1]."""
        return self.spill * self.cosine / self.shape

    def by_ring(self, ring: Ring) -> RealArray:
        """Return the derivative of the log by the strength of a Ring, (k, e) [1]."""
        by_strength: RealArray = ring.bell(self.log_u)[0] / self.shape
        return by_strength


def intensity_along(
    cos: RealArray,
    *,
    cos2: RealArray,
    half: RealArray,
    edge: float,
    spill: RealArray,
    directions: RayDirections | None = None,
    ring: Ring | None = None,
) -> IntensityDistribution:
    """Return the IntensityDistribution of rays (k, e).

    `cos` cosine in air of their angle from straight down and `cos2` that squared, (k, e), above
    zero [1]; `half` (e,) half width, `edge` and `spill` (e,) as `beam.intensity` takes them [1];
    `directions` where fixtures are tilted or have measured optics; `ring` where they throw one.
    """
    ratio, slopes = None, None
    if directions is None:
        cosine, u = cos, np.maximum(-0.5 * np.log(cos2), 1e-12)
    else:
        raw = directions.cosine()
        cosine = np.clip(raw, BEHIND, 1.0)
        u = np.maximum(-np.log(cosine), 1e-12)
        measured, *by_slope_and_azimuth = directions.measured()
        ratio = measured * (raw > BEHIND)
        slopes = by_slope_and_azimuth[0], by_slope_and_azimuth[1]
    log_u = np.log(u / half)
    fall = LN2 * np.exp(np.minimum(edge * log_u, FALL_MOST))
    core = np.exp(-fall)
    shape, steep = core + spill * cosine, core * fall * edge
    if ring is not None:
        bell, falling = ring.bell(log_u)
        shape, steep = shape + ring.strength * bell, steep + ring.strength * bell * falling
    return IntensityDistribution(
        shape, core, fall, steep, u, log_u, edge, spill, cosine, directions, ratio, slopes
    )
