"""How fast a coral grows: a straight line through the logarithm of its size."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

DAYS_PER_MONTH = 30.4375
SIZES_MIN = 3
# Calipers on a branching coral, and the tilt and distance of a photo's scale, as deviations in log
# size: house rules.
CALIPERS_SD = 0.03
PHOTO_SD = 0.05
# How exactly an end of a line is placed on a photo [px of the kept image].
POINT_SD_PX = 3.0


@dataclass(frozen=True)
class Growth:
    """Growth a month as a factor [1], with the ends of its 90 % interval; `n` sizes told it."""

    factor: float
    low: float
    high: float
    n: int
    days: float

    @property
    def sure(self):
        """Whether the interval lies on one side of no growth."""
        return self.low > 1.0 or self.high < 1.0


def growth(days, sizes, *, sd_log):
    """Return the Growth of sizes (n,) on days (n,), or None where they can't tell.

    Least squares of log size on time, each size weighed by its deviation sd_log (n,) [1]. The
    slope's interval is Student's with n - 2 degrees of freedom, and its error never less than what
    sd_log alone gives: a few sizes may lie on a line by chance. At least three sizes on three
    different days; size is a diameter or an area, any unit, above 0. Constant relative growth over
    the whole time is assumed. Textbook weighted regression.
    """
    days, sizes = np.asarray(days, float), np.asarray(sizes, float)
    if len(np.unique(days)) < SIZES_MIN:
        return None
    if not np.all(sizes > 0):
        raise ValueError("Sizes must be above zero.")
    weight = 1.0 / np.asarray(sd_log, float) ** 2
    months = days / DAYS_PER_MONTH
    middle = np.average(months, weights=weight)
    spread = float((weight * (months - middle) ** 2).sum())
    logs = np.log(sizes)
    slope = float((weight * (months - middle) * logs).sum() / spread)
    left = logs - np.average(logs, weights=weight) - slope * (months - middle)
    freedom = len(days) - 2
    scale = max(1.0, float((weight * left**2).sum()) / freedom)
    reach = float(student.ppf(0.95, freedom)) * np.sqrt(scale / spread)
    return Growth(
        factor=float(np.exp(slope)),
        low=float(np.exp(slope - reach)),
        high=float(np.exp(slope + reach)),
        n=len(days),
        days=float(np.ptp(days)),
    )


def outline_size(outline, scale, *, scale_cm, width_px, height_px):
    """Return (widest extent [cm], area [cm2], sd of the log of the extent [1]) read from a photo.

    outline: (k, 2) corners and scale: (2, 2) ends of a line `scale_cm` long beside the coral, both
    as shares of the picture. Valid where scale and coral are about as far from the camera.
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
