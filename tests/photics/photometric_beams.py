"""Beams read off a photometry: what a shape is held against, as a lamp maker would state it."""

import math

import numpy as np

from apps.photics import limits
from apps.photics.photometry.distribution import PROFILE_TURNS_DEG

# Grid on which beams are read off, fine against any measured file [degrees].
PROFILE_STEP_DEG = 0.25


def per_sr(photometry, nadir_deg, turn_deg=0.0):
    """Return the share of a fixture's flux per solid angle [1/sr]."""
    return photometry.intensity(nadir_deg, turn_deg=turn_deg) / photometry.flux_lm


def downward(photometry):
    """Return angles from nadir to level (k,) [degrees] and the mean intensity round each [cd]."""
    angles = np.arange(0, 90 + PROFILE_STEP_DEG / 2, PROFILE_STEP_DEG)
    around = photometry.intensity(angles[:, None], turn_deg=PROFILE_TURNS_DEG)
    return angles, around.mean(axis=1)


def beam_deg(photometry, plane_deg=None):
    """Return the full width at half of the peak [degrees]; None for no light downward.

    Of the mean over all turns, or in one plane (both halves of it). A beam with a dark middle
    counts to its outer edge; 180 when it never falls to half.
    """
    angles, mean = downward(photometry)
    if plane_deg is None:
        return full_width(angles, mean, peak=mean.max())
    sides = [photometry.intensity(angles, turn_deg=plane_deg + half) for half in (0.0, 180.0)]
    peak = max(side.max() for side in sides)
    widths = [full_width(angles, side, peak=peak) for side in sides]
    return None if None in widths else sum(widths) / 2


def equivalent_beam_deg(photometry):
    """Return the beam of the cos^m whose downward light leans as far from the plumb line [degrees].

    The mean cosine of a cos^m is (m + 1) / (m + 2); its width at half maximum is
    2 acos(0.5 ^ (1 / m)). Held within the bounds of a beam; None for no light downward.
    """
    angles, profile = downward(photometry)
    cosine = np.cos(np.radians(angles))
    weight = (profile[:-1] + profile[1:]) / 2 * -np.diff(cosine)
    if not weight.sum() > 0:
        return None
    mean = float(weight @ ((cosine[:-1] + cosine[1:]) / 2) / weight.sum())
    if mean >= 1 - 1e-9:
        return limits.BEAM_MIN_DEG
    exponent = max((2 * mean - 1) / (1 - mean), 1e-3)
    beam = 2 * math.degrees(math.acos(0.5 ** (1 / exponent)))
    return min(max(beam, limits.BEAM_MIN_DEG), limits.BEAM_MAX_DEG)


def full_width(angles, profile, *, peak):
    """Return twice the outermost angle where a profile falls to half of `peak` [degrees]."""
    if not peak > 0:
        return None
    bright = np.flatnonzero(profile >= peak / 2)
    if not len(bright):
        return 0.0
    last = bright[-1]
    if last == len(angles) - 1:
        return 180.0
    drop = (profile[last] - peak / 2) / (profile[last] - profile[last + 1])
    return float(2 * (angles[last] + drop * (angles[last + 1] - angles[last])))
