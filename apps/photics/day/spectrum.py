"""Approximate spectra of light channels: photon shares, photons per joule, lux per photon.

Every spectrum here is a model, not a measurement: a Gaussian for a narrow channel, a blue pump
and a broad phosphor band for a white one. It gives the proportions of photons of each colour,
not more.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

from apps.photics import limits
from apps.photics.ground.arrays import FloatArray, FloatOrArray

# Chosen wider than PAR, because lux is [nm].
WAVELENGTH_NM = np.arange(380.0, 781.0)
# PAR by its definition (McCree 1972, Agric Meteorol 9:191), and thirds of it as blue, green and
# red.
PAR_NM = (400.0, 700.0)
BANDS_NM = {"blue": (400.0, 500.0), "green": (500.0, 600.0), "red": (600.0, 700.0)}

# N_A h c with the exact constants of the SI: energy of a micromole of photons times wavelength.
J_NM_PER_UMOL = 6.02214076e23 * 6.62607015e-34 * 299_792_458 * 1e9 * 1e-6
# h c / k [nm K], exact constants of the SI.
SECOND_RADIATION_NM_K = 6.62607015e-34 * 299_792_458 / 1.380649e-23 * 1e9
# Luminous efficacy at 540 THz [lm/W], exact constant of the SI.
LUMEN_PER_WATT = 683.0

# CIE 1924 photopic observer V(lambda), 380 to 780 nm in steps of 10 (CIE 018; also ISO 23539).
# Read between by a monotone cubic: lux per photon of CIE illuminants A and E within 0.05 %.
PHOTOPIC = np.array(
    [
        0.000039, 0.00012, 0.000396, 0.00121, 0.004, 0.0116, 0.023, 0.038, 0.06, 0.09098,
        0.13902, 0.20802, 0.323, 0.503, 0.71, 0.862, 0.954, 0.99495, 0.995, 0.952,
        0.87, 0.757, 0.631, 0.503, 0.381, 0.265, 0.175, 0.107, 0.061, 0.032,
        0.017, 0.00821, 0.004102, 0.002091, 0.001047, 0.00052, 0.000249, 0.00012, 0.00006,
        0.00003, 0.000015,
    ]
)  # fmt: skip
V_LAMBDA = PchipInterpolator(np.arange(380, 781, 10), PHOTOPIC)(WAVELENGTH_NM)

# CIE 1931 colour matching as sums of two-sided Gaussians (height, middle, widths) [nm]: Wyman,
# Sloan & Shirley 2013, JCGT 2(2). Off by at most 0.024 from the table; used only to find a white.
COLOUR_MATCHING = (
    ((1.056, 599.8, 37.9, 31.0), (0.362, 442.0, 16.0, 26.7), (-0.065, 501.1, 20.4, 26.2)),
    ((0.821, 568.8, 46.9, 40.5), (0.286, 530.9, 16.3, 31.1)),
    ((1.217, 437.0, 11.8, 36.0), (0.681, 459.0, 26.0, 13.8)),
)

# Width of a narrow channel at half of its peak where none is stated [nm], by peak wavelength up to
# which it holds. Typical of LED data sheets, from memory; green emitters are the wide ones.
TYPICAL_WIDTHS_NM = ((480.0, 20.0), (580.0, 33.0), (np.inf, 20.0))

# A white: blue pump and phosphor band [nm]. With these widths the proportions of photons lie within
# 0.02 of the CIE illuminants LED-B1 to B5 (CIE 015:2018), photons per joule within 1 %, lux per
# photon within 3 %.
PUMP_NM, PUMP_WIDTH_NM, PHOSPHOR_WIDTH_NM = 452.0, 25.0, 150.0


@dataclass(frozen=True)
class Channel:
    """One colour of a fixture: a peak wavelength [nm] or a white [K], and its width [nm]."""

    name: str
    peak_nm: float | None = None
    white_kelvin: float | None = None
    width_nm: float | None = None

    def __post_init__(self) -> None:
        if (self.peak_nm is None) == (self.white_kelvin is None):
            raise ValueError("A channel has either a peak wavelength or a white in kelvin.")
        for value, least, most, what in (
            (self.peak_nm, limits.PEAK_NM_MIN, limits.PEAK_NM_MAX, "A peak wavelength"),
            (self.white_kelvin, limits.KELVIN_MIN, limits.KELVIN_MAX, "A white in kelvin"),
            (self.width_nm, limits.WIDTH_NM_MIN, limits.WIDTH_NM_MAX, "A width in nm"),
        ):
            if value is not None and not least <= value <= most:
                raise ValueError(f"{what} is {least:g} to {most:g}, not {value:g}.")

    @property
    def spectrum(self) -> "Spectrum":
        """The Spectrum of one micromole of PAR from this channel."""
        if self.peak_nm is None:
            # Each has one of the two.
            assert self.white_kelvin is not None
            raw = white(float(self.white_kelvin))
        else:
            width = self.width_nm if self.width_nm is not None else typical_width_nm(self.peak_nm)
            raw = Spectrum(gaussian(self.peak_nm, width_nm=width))
        return Spectrum(raw.power / raw.par_umol)


class PhotonProportions(NamedTuple):
    """Proportions of the PAR photons [1]: 400-500, 500-600 and 600-700 nm; they sum to 1."""

    blue: float
    green: float
    red: float


@dataclass(frozen=True, eq=False)
class Spectrum:
    """Radiant power (401,) per nm from 380 to 780 nm, any scale [W/nm]."""

    power: FloatArray
    approximate: bool = True

    def photons_between(self, low_nm: float, high_nm: float) -> float:
        """Return the photons from `low_nm` to `high_nm`, both ends included [umol/s for W]."""
        inside = (low_nm <= WAVELENGTH_NM) & (high_nm >= WAVELENGTH_NM)
        photons = self.power * umol_per_joule(WAVELENGTH_NM)
        return float(np.trapezoid(photons[inside], WAVELENGTH_NM[inside]))

    @cached_property
    def par_umol(self) -> float:
        """Photons from 400 to 700 nm [umol/s for W]."""
        return self.photons_between(*PAR_NM)

    @property
    def proportions(self) -> PhotonProportions:
        """The PhotonProportions of its colours [1]."""
        return PhotonProportions(
            *(self.photons_between(*band) / self.par_umol for band in BANDS_NM.values())
        )

    @property
    def umol_per_joule(self) -> float:
        """PAR photons per joule of PAR light, the most its colour allows [umol/J]."""
        inside = (PAR_NM[0] <= WAVELENGTH_NM) & (PAR_NM[1] >= WAVELENGTH_NM)
        return self.par_umol / float(np.trapezoid(self.power[inside], WAVELENGTH_NM[inside]))

    @property
    def lux_per_umol(self) -> float:
        """Lux that comes with one umol m-2 s-1 of PAR [lx]."""
        return (
            LUMEN_PER_WATT
            * float(np.trapezoid(self.power * V_LAMBDA, WAVELENGTH_NM))
            / (self.par_umol)
        )


def umol_per_joule(wavelength_nm: FloatOrArray) -> FloatOrArray:
    """Return the photons in a joule of light of one wavelength, of its shape [umol/J].

    `wavelength_nm` scalar or array, above zero [nm]. E = h c / wavelength; exact.

    >>> round(umol_per_joule(450), 5)
    3.76171
    """
    return wavelength_nm / J_NM_PER_UMOL


def typical_width_nm(peak_nm: float) -> float:
    """Return the usual width at half maximum of a channel by `peak_nm`, both [nm]."""
    return next(width for limit, width in TYPICAL_WIDTHS_NM if peak_nm <= limit)


def gaussian(peak_nm: float, *, width_nm: float) -> FloatArray:
    """Return a Gaussian of height 1 at WAVELENGTH_NM, (401,) [1]. Exact by its width.

    `peak_nm` its middle, `width_nm` how wide it is at half its height, above zero [nm].
    """
    power: FloatArray = np.exp(-4 * np.log(2) * ((WAVELENGTH_NM - peak_nm) / width_nm) ** 2)
    return power


def planck(kelvin: float) -> FloatArray:
    """Return the power of a black body per nm at WAVELENGTH_NM, 1 at the red end, (401,) [1].

    `kelvin` its temperature, above zero [K]. Planck's law.
    """
    red_end = WAVELENGTH_NM[-1]
    scale = np.expm1(SECOND_RADIATION_NM_K / (red_end * kelvin))
    fall = np.expm1(SECOND_RADIATION_NM_K / (WAVELENGTH_NM * kelvin))
    power: FloatArray = (red_end / WAVELENGTH_NM) ** 5 * scale / fall
    return power


def chromaticity(power: FloatArray) -> FloatArray:
    """Return CIE 1931 x, y of a spectrum, (2,) [1], by the Gaussian colour matching above.

    `power` (401,) at WAVELENGTH_NM, any scale.
    """
    totals = np.array([float(power @ matching(gaussians)) for gaussians in COLOUR_MATCHING])
    xy: FloatArray = totals[:2] / totals.sum()
    return xy


def matching(gaussians: Sequence[tuple[float, float, float, float]]) -> FloatArray:
    """Return one colour matching function at WAVELENGTH_NM, (401,) [1].

    `gaussians` as in COLOUR_MATCHING: (height [1], middle, widths below and above it [nm]).
    """
    total = np.zeros_like(WAVELENGTH_NM)
    for height, middle, left, right in gaussians:
        width = np.where(middle > WAVELENGTH_NM, left, right)
        total += height * np.exp(-0.5 * ((WAVELENGTH_NM - middle) / width) ** 2)
    return total


@lru_cache(maxsize=256)
def white(kelvin: float) -> Spectrum:
    """Return the Spectrum of a white channel with the colour of a black body at `kelvin` [K].

    The height of the pump and the place of the phosphor band are solved for that colour. A white
    between violet-pumped or multi-band phosphors differs; so it is marked approximate.
    Raises ValueError where no such white exists; holds from limits.KELVIN_MIN to KELVIN_MAX.
    """
    wanted = chromaticity(planck(kelvin))

    def pumped(unknowns: FloatArray) -> FloatArray:
        pump, phosphor_nm = np.exp(unknowns[0]), unknowns[1]
        blue: FloatArray = pump * gaussian(PUMP_NM, width_nm=PUMP_WIDTH_NM)
        return blue + gaussian(phosphor_nm, width_nm=PHOSPHOR_WIDTH_NM)

    start = [np.log(np.clip(kelvin / 6500, 0.2, 4)), 570.0]

    def miss(unknowns: FloatArray) -> FloatArray:
        return chromaticity(pumped(unknowns)) - wanted

    solved = root(miss, start, tol=1e-10)
    if not solved.success:
        raise ValueError(f"No white of {kelvin:g} K was found.")
    return Spectrum(pumped(solved.x))


def mixed(channels: Sequence[Channel], par_umol: Sequence[float]) -> Spectrum:
    """Return the Spectrum of channels that give `par_umol` (n,) of PAR each, any scale.

    Raises ValueError where none is on or one is below zero.

    >>> both = mixed([Channel("blue", peak_nm=450), Channel("red", peak_nm=660)], [3, 1])
    >>> round(both.proportions.blue, 3), round(both.proportions.red, 3)
    (0.75, 0.25)
    """
    if not len(channels) or min(par_umol) < 0 or not sum(par_umol) > 0:
        raise ValueError("A mix needs at least one channel that is on.")
    parts = [
        part * channel.spectrum.power for channel, part in zip(channels, par_umol, strict=True)
    ]
    return Spectrum(sum(parts[1:], start=parts[0]))
