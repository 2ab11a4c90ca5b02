"""How fast a coral grows: a straight line through the logarithm of its size."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import t as student

# A year of 365.25 days in twelve parts, by definition [d].
DAYS_PER_MONTH = 30.4375
# Chosen, because two sizes always lie on a line and so give no error.
SIZES_MIN = 3
# Calipers on a branching coral, and the tilt and distance of a photo's scale, as deviations in log
# size [1]. Chosen, because 1 mm of 3 cm and a tilt of 18 degrees come to that.
CALIPERS_SD = 0.03
PHOTO_SD = 0.05
# How exactly an end of a line is placed on a photo [px of the kept image]. Chosen, because a
# finger on a phone does no better.
POINT_SD_PX = 3.0


@dataclass(frozen=True)
class Growth:
    """Growth a month as a factor [1], with the ends of its 90 % interval.

    By `n` sizes over `days` [d].
    """

    factor: float
    low: float
    high: float
    n: int
    days: float

    @property
    def sure(self) -> bool:
        """Whether the interval lies on one side of no growth."""
        return self.low > 1.0 or self.high < 1.0


def growth(days: ArrayLike, sizes: ArrayLike, *, sd_log: ArrayLike) -> Growth | None:
    """Return the Growth of `sizes` (n,) on `days` (n,) [d], or None where they can't tell.

    Least squares of log size on time, each size weighed by its deviation `sd_log` (n,) [1]. The
    slope's interval is Student's with n - 2 degrees of freedom, and its error never less than what
    sd_log alone gives: a few sizes may lie on a line by chance. At least three sizes on three
    different days; size is a diameter or an area, any unit, above 0. Constant relative growth over
    the whole time is assumed. Textbook weighted regression.
    """
    day, size = np.asarray(days, float), np.asarray(sizes, float)
    if len(np.unique(day)) < SIZES_MIN:
        return None
    if not np.all(size > 0):
        raise ValueError("Sizes must be above zero.")
    weight = 1.0 / np.asarray(sd_log, float) ** 2
    months = day / DAYS_PER_MONTH
    middle = np.average(months, weights=weight)
    spread = float((weight * (months - middle) ** 2).sum())
    logs = np.log(size)
    slope = float((weight * (months - middle) * logs).sum() / spread)
    left = logs - np.average(logs, weights=weight) - slope * (months - middle)
    freedom = len(day) - 2
    scale = max(1.0, float((weight * left**2).sum()) / freedom)
    half_width = float(student.ppf(0.95, freedom)) * np.sqrt(scale / spread)
    return Growth(
        factor=float(np.exp(slope)),
        low=float(np.exp(slope - half_width)),
        high=float(np.exp(slope + half_width)),
        n=len(day),
        days=float(np.ptp(day)),
    )


def outline_size(
    outline: ArrayLike, scale: ArrayLike, *, scale_cm: float, width_px: float, height_px: float
) -> tuple[float, float, float]:
    """Return (widest extent [cm], area [cm2], sd of the log of the extent [1]) read from a photo.

    `outline` (k, 2) corners and `scale` (2, 2) ends of a line `scale_cm` [cm] long beside the
    coral, both in parts of the picture's `width_px` and `height_px` [px]. Valid where scale and
    coral are about as far from the camera. Plane geometry; the shoelace formula gives the area.
    Raises ValueError where the line has no length.
    """
    pixels = np.array([width_px, height_px], float)
    corners, ends = np.asarray(outline, float) * pixels, np.asarray(scale, float) * pixels
    scale_px = float(np.linalg.norm(ends[1] - ends[0]))
    if scale_px < 1.0:
        raise ValueError("The known length has no length in the photo.")
    cm_per_px = scale_cm / scale_px
    apart = corners[:, None, :] - corners[None, :, :]
    widest_px = float(np.sqrt((apart**2).sum(-1)).max())
    x, y = corners.T
    area_px = abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2.0
    placed = POINT_SD_PX * np.sqrt(2.0) * np.hypot(1.0 / scale_px, 1.0 / max(widest_px, 1.0))
    return widest_px * cm_per_px, area_px * cm_per_px**2, float(np.hypot(PHOTO_SD, placed))
