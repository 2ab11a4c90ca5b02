"""The beam that stands for a measured distribution in the light field, and what that loses."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from apps.photics import limits
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.measured_optic import ANGLES_DEG as RATIO_ANGLES_DEG
from apps.photics.ground.measured_optic import TURNS_DEG, MeasuredOptic, measured_optic
from apps.photics.optics.beam import LN2, half_logcos
from apps.photics.photometry.distribution import PROFILE_TURNS_DEG, Opening, Photometry
from apps.photics.rig.nominal import EDGE, NOMINAL_SHARED, SPILL

# Grid on which distributions are compared, middles of bands [degrees]: chosen, because no file
# is measured finer.
BAND_DEG = 1.0
ANGLES_DEG = np.arange(BAND_DEG / 2, 90.0, BAND_DEG)
# Beams tried before the best of them is refined [degrees]: chosen, because misplaced light has one
# dip within so little.
TRIED_STEP_DEG = 5.0
TRIED_DEG = np.arange(limits.BEAM_MIN_DEG, limits.BEAM_MAX_DEG + 0.1, TRIED_STEP_DEG)


@dataclass(frozen=True)
class OpticFit:
    """The beam of the light field's own shape that is nearest to a measured one."""

    beam_deg: float
    misplaced: float  # share of the downward light that this shape sends elsewhere [1]
    upward: float  # share of all light that goes up and is left out [1]
    optic: MeasuredOptic  # what the fixture sends for 1 of that beam's model intensity


def model_shape(beam_deg: float, angles_deg: FloatArray = ANGLES_DEG) -> FloatArray:
    """Return the intensity (n,) of a fixture of this beam as the light field takes it at first [1].

    `beam_deg` full width at half maximum, `angles_deg` (n,) from the axis [degrees]. A core with an
    edge and a spill by the law of `beam.intensity`.

    >>> float(model_shape(60.0, np.array([30.0]))[0] / model_shape(60.0, np.array([0.0]))[0]) < 0.6
    True
    """
    half = half_logcos(beam_deg)
    edge, spill = NOMINAL_SHARED[EDGE], np.exp(NOMINAL_SHARED[SPILL])
    cosine = np.cos(np.radians(angles_deg))
    u = np.maximum(-np.log(np.maximum(cosine, 1e-12)), 1e-12)
    unit = 2.0 * (1.0 - np.exp(-half))
    shape: FloatArray = np.exp(-LN2 * (u / half) ** edge) + unit * spill * cosine
    return shape


def length_turned_deg(opening: Opening, *, length_cm: float, width_cm: float) -> float:
    """Return how far a lit face's length is turned from a file's 0-degree plane [degrees].

    `opening` is a Photometry's, the face length_cm by width_cm. A file may call length what the
    keeper calls width: the longer sides belong together.
    """
    file_long = opening.along_cm - opening.across_cm
    return 90.0 if file_long * (length_cm - width_cm) < 0 else 0.0


def fit_optic(photometry: Photometry, *, turned_deg: float = 0.0) -> OpticFit | None:
    """Return the OpticFit of a Photometry, or None when it sends no light down.

    turned_deg: how far the fixture's length is turned from the file's 0-degree plane [degrees].

    The beam with the least misplaced light: half the integral of |measured - modelled| over the
    lower half of the sphere, both of flux 1. Our own choice; edge and spill are those a rig starts
    with and are fitted to readings later, for all fixtures together.
    """
    measured = photometry.intensity(ANGLES_DEG[:, None], turn_deg=PROFILE_TURNS_DEG)
    solid = np.sin(np.radians(ANGLES_DEG)) * np.radians(BAND_DEG) * 2 * np.pi
    flux = float(solid @ measured.mean(axis=1))
    if not flux > 0:
        return None
    measured = measured / flux

    def misplaced(beam_deg: float) -> float:
        shape = model_shape(beam_deg)
        shape = shape / (solid @ shape)
        return 0.5 * float(solid @ np.abs(measured - shape[:, None]).mean(axis=1))

    near = TRIED_DEG[int(np.argmin([misplaced(beam) for beam in TRIED_DEG]))]
    ends = (
        max(near - TRIED_STEP_DEG, limits.BEAM_MIN_DEG),
        min(near + TRIED_STEP_DEG, limits.BEAM_MAX_DEG),
    )
    best = minimize_scalar(misplaced, bounds=ends, method="bounded", options={"xatol": 0.05})
    upward = max(0.0, 1.0 - flux / photometry.flux_lm)
    beam = float(best.x)
    rays = photometry.intensity(RATIO_ANGLES_DEG[:, None], turn_deg=TURNS_DEG + turned_deg)
    optic = measured_optic(rays, model_shape(beam, RATIO_ANGLES_DEG))
    return OpticFit(beam, float(best.fun), upward, optic)
