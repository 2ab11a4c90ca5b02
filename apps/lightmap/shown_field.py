"""A light field as another moment sees it, cut for the pages that draw it."""

import hashlib
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
from django.core.cache import caches

from apps.lightmap.logged_factors import guesses_log, widened
from apps.photics.field.composition import Explanation
from apps.photics.field.light_field import LightField
from apps.photics.ground.arrays import ArrayLike, FloatArray
from apps.photics.ground.estimate import Estimate, GridEstimate, SectionEstimate
from apps.photics.ground.normal import NORMAL_90

# Any of the field's estimates, and what a cut of it returns.
Estimated = TypeVar("Estimated", Estimate, GridEstimate, SectionEstimate, Explanation)
Cut = TypeVar("Cut")


@dataclass(frozen=True)
class ShownField:
    """A light field as another moment sees it: times the factors that keepers logged, and wider.

    What the fixtures changed is in the field already (`map_after`).
    """

    field: LightField
    factor: float
    changes: float  # how many guesses of a keeper are in it
    cache_key: str = ""

    @property
    def common_log(self) -> float:
        """Half the width that the meter's scale and logged guesses bring to all points alike."""
        by_meter = NORMAL_90 * self.field.meter_deviation
        return math.hypot(by_meter, guesses_log(self.changes))

    @property
    def is_smooth(self) -> bool:
        """Whether cuts of it are read off a lattice."""
        return self.field.is_smooth

    def at(self, points_cm: ArrayLike) -> Estimate:
        """Return the Estimate at points (m, 3) of x, y, depth [cm]."""
        return self.moved(self.field.at(points_cm))

    @cached_property
    def half_width_percent(self) -> float | None:
        """Half of the 90 % interval, the median over all the water [%]; None in the dark."""
        there = self.moved(self.field.open_estimate)
        lit = there.par_umol > 0.0
        if not lit.any():
            return None
        return float(
            np.median(50.0 * (there.high_umol - there.low_umol)[lit] / there.par_umol[lit])
        )

    def grid(self, depth_cm: float, step_cm: float) -> GridEstimate:
        """Return the GridEstimate of a level cut at one depth [cm]."""
        cut = self._kept("grid", self.field.grid, depth_cm, step_cm)
        return self.moved(cut)

    def section(self, y_cm: float, step_cm: float) -> SectionEstimate:
        """Return the SectionEstimate of an upright cut at one y [cm]."""
        cut = self._kept("section", self.field.section, y_cm, step_cm)
        return self.moved(cut)

    def block(self, x_cm: ArrayLike, y_cm: ArrayLike, depth_cm: ArrayLike) -> Estimate:
        """Return the Estimate on the grid of three axes [cm], each array (nx, ny, nz)."""
        return self.moved(Estimate(*self._kept("cut", self.field.cut, x_cm, y_cm, depth_cm)))

    def _kept(self, way: str, cut: Callable[..., Cut], *where: ArrayLike) -> Cut:
        """Return a cut of the field, kept where every node of it has to be worked out."""
        if self.is_smooth or not self.cache_key:
            return cut(*where)
        place = hashlib.sha256(b"".join(np.asarray(axis, float).tobytes() for axis in where))
        key = f"{self.cache_key}-{way}-{place.hexdigest()}"
        return caches["planes"].get_or_set(key, lambda: cut(*where))

    def directness(self, points_cm: ArrayLike) -> FloatArray:
        """Return the share of PAR straight from one fixture at points (m, 3), (m,) [1]."""
        return self.field.directness(points_cm)

    def explain(self, point_cm: ArrayLike) -> Explanation:
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
        daylight = result.daylight_umol * self.factor
        return replace(
            result, contributions=parts, correction_umol=correction, daylight_umol=daylight
        )

    def moved(self, estimate: Estimated) -> Estimated:
        """Return any of the field's estimates scaled and widened."""
        par = estimate.par_umol * self.factor
        low, high = widened(
            par, estimate.low_umol * self.factor, estimate.high_umol * self.factor, self.changes
        )
        return replace(estimate, par_umol=par, low_umol=low, high_umol=high)
