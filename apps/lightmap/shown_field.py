"""A light field as another moment sees it, cut for the pages that draw it."""

import hashlib
from dataclasses import dataclass, replace

import numpy as np
from django.core.cache import caches

from apps.lightmap.logged_factors import widened
from apps.photics.field.light_field import LightField
from apps.photics.ground.estimate import Estimate


@dataclass(frozen=True)
class ShownField:
    """A light field as another moment sees it: times the factors that keepers logged, and wider.

    What the fixtures changed is in the field already (`map_after`).
    """

    field: LightField
    factor: float
    changes: int
    cache_key: str = ""

    def at(self, points_cm):
        """Return the Estimate at points (m, 3) of x, y, depth [cm]."""
        return self.moved(self.field.at(points_cm))

    def grid(self, depth_cm, step_cm):
        """Return the GridEstimate of a level cut at one depth [cm]."""
        return self.moved(self._cut("grid", depth_cm, step_cm))

    def section(self, y_cm, step_cm):
        """Return the SectionEstimate of an upright cut at one y [cm]."""
        return self.moved(self._cut("section", y_cm, step_cm))

    def block(self, x_cm, y_cm, depth_cm):
        """Return the Estimate on the grid of three axes [cm], each array (nx, ny, nz)."""
        return self.moved(Estimate(*self._cut("cut", x_cm, y_cm, depth_cm)))

    def _cut(self, way, *where):
        """Return a cut of the field, kept where every node of it has to be worked out."""
        if self.field.is_smooth or not self.cache_key:
            return getattr(self.field, way)(*where)
        place = hashlib.sha256(b"".join(np.asarray(axis, float).tobytes() for axis in where))
        key = f"{self.cache_key}-{way}-{place.hexdigest()}"
        return caches["planes"].get_or_set(key, lambda: getattr(self.field, way)(*where))

    def directness(self, points_cm):
        """Return the share of PAR straight from one fixture at points (m, 3), (m,) [1]."""
        return self.field.directness(points_cm)

    def explain(self, point_cm):
        """Return the Explanation of one point (3,), every part of it scaled alike."""
        result = self.moved(self.field.explain(point_cm))
        parts = tuple(
            replace(
                part,
                direct_umol=part.direct_umol * self.factor,
                by_panes_umol=part.by_panes_umol * self.factor,
                by_bottom_umol=part.by_bottom_umol * self.factor,
            )
            for part in result.contributions
        )
        correction = result.correction_umol * self.factor
        return replace(result, contributions=parts, correction_umol=correction)

    def moved(self, estimate):
        """Return any of the field's estimates scaled and widened."""
        par = estimate.par_umol * self.factor
        low, high = widened(
            par, estimate.low_umol * self.factor, estimate.high_umol * self.factor, self.changes
        )
        return replace(estimate, par_umol=par, low_umol=low, high_umol=high)
