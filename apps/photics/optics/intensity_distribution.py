"""The lobe of emitters along rays, and how its log changes with what shapes it."""

from dataclasses import dataclass

import numpy as np

from apps.photics.optics.beam import LN2
from apps.photics.optics.orientation import BEHIND, Sight

# The core's fall is cut here, where nothing is left of it [log of nepers].
FALL_MOST = 6.0


@dataclass(frozen=True)
class Lobe:
    """Intensity along rays (k, e), 1 + skirt along the axis, by `optics.intensity`'s law.

    Where a Sight is given, fixtures are tilted or have rays of their own: `seen` is what of the
    lobe that leaves [1], and its derivatives are in `by_slope` too.
    """

    shape: np.ndarray
    core: np.ndarray
    fall: np.ndarray
    u: np.ndarray
    log_u: np.ndarray
    edge: float
    skirt: np.ndarray
    cosine: np.ndarray  # from the fixture's axis
    sight: Sight | None
    seen: np.ndarray | None
    measured: tuple

    @property
    def light(self):
        """Return the intensity, (k, e) [1]."""
        return self.shape if self.seen is None else self.shape * self.seen

    def by_direction(self, slope, cos, cos2):
        """Return derivatives of the log by the ray's slope and azimuth; None where that is moot."""
        if self.sight is None:
            by_slope = (
                self.core * self.fall * self.edge / self.u * -slope * cos2
                - self.skirt * slope * cos2 * cos
            ) / self.shape
            return by_slope, None
        by_cosine = self.core * self.fall * self.edge / (self.u * self.cosine) + self.skirt
        by_slope, by_azimuth = self.sight.chained(by_cosine / self.shape)
        return by_slope + self.measured[1], by_azimuth + self.measured[2]

    @property
    def by_beam(self):
        return self.core * self.fall * self.edge / self.shape

    @property
    def by_edge(self):
        return -self.core * self.fall * self.log_u / self.shape

    @property
    def by_skirt(self):
        return self.skirt * self.cosine / self.shape


def lobe_along(cos, cos2, *, half, edge, skirt, sight=None):
    """Return the Lobe of rays (k, e) by their cosines in air, and its square; (e,) half, skirt."""
    seen, measured = None, ()
    if sight is None:
        cosine, u = cos, np.maximum(-0.5 * np.log(cos2), 1e-12)
    else:
        raw = sight.cosine()
        cosine = np.clip(raw, BEHIND, 1.0)
        u = np.maximum(-np.log(cosine), 1e-12)
        measured = sight.measured()
        seen = measured[0] * (raw > BEHIND)
    log_u = np.log(u / half)
    fall = LN2 * np.exp(np.minimum(edge * log_u, FALL_MOST))
    core = np.exp(-fall)
    shape = core + skirt * cosine
    return Lobe(shape, core, fall, u, log_u, edge, skirt, cosine, sight, seen, measured)
