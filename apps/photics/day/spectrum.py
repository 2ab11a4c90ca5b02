"""Approximate spectra of light channels: photon shares, photons per joule, lux per photon.

Every spectrum here is a model, not a measurement: a Gaussian for a narrow channel, a blue pump
and a broad phosphor lobe for a white one. It says how photons are shared between the colours,
not more.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import root

from apps.photics import limits

# Wider than PAR, because lux is.
WAVELENGTH_NM = np.arange(380.0, 781.0)
PAR_NM = (400.0, 700.0)
BANDS_NM = {"blue": (400.0, 500.0), "green": (500.0, 600.0), "red": (600.0, 700.0)}

# N_A h c with the exact constants of the SI: energy of a micromole of photons times wavelength.
J_NM_PER_UMOL = 6.02214076e23 * 6.62607015e-34 * 299_792_458 * 1e9 * 1e-6
# h c / k [nm K], exact constants of the SI.
SECOND_RADIATION_NM_K = 6.62607015e-34 * 299_792_458 / 1.380649e-23 * 1e9
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
COLOUR_LOBES = (
    ((1.056, 599.8, 37.9, 31.0), (0.362, 442.0, 16.0, 26.7), (-0.065, 501.1, 20.4, 26.2)),
    ((0.821, 568.8, 46.9, 40.5), (0.286, 530.9, 16.3, 31.1)),
    ((1.217, 437.0, 11.8, 36.0), (0.681, 459.0, 26.0, 13.8)),
)

# Width of a narrow channel at half of its peak where none is told [nm], by peak wavelength up to
# which it holds. Typical of LED data sheets, from memory; green emitters are the wide ones.
TYPICAL_WIDTHS_NM = ((480.0, 20.0), (580.0, 33.0), (np.inf, 20.0))

# A white: blue pump and phosphor lobe [nm]. With these widths the shares of photons lie within
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

    def __post_init__(self):
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
    def spectrum(self):
        """The Spectrum of one micromole of PAR from this channel."""
        if self.white_kelvin is not None:
            found = white(float(self.white_kelvin))
        else:
            width = self.width_nm if self.width_nm is not None else typical_width_nm(self.peak_nm)
            found = Spectrum(gaussian(self.peak_nm, width))
        return Spectrum(found.power / found.par_umol)


class Shares(NamedTuple):
    """Shares of the PAR photons: 400-500, 500-600 and 600-700 nm; they sum to 1."""

    blue: float
    green: float
    red: float


@dataclass(frozen=True, eq=False)
class Spectrum:
    """Radiant power (401,) per nm from 380 to 780 nm, any scale [W/nm]."""

    power: np.ndarray
    approximate: bool = True

    def photons_between(self, low_nm, high_nm):
        """Return the photons of a band [umol/s for W]."""
        inside = (low_nm <= WAVELENGTH_NM) & (high_nm >= WAVELENGTH_NM)
        photons = self.power * umol_per_joule(WAVELENGTH_NM)
        return float(np.trapezoid(photons[inside], WAVELENGTH_NM[inside]))

    @cached_property
    def par_umol(self):
        """Photons from 400 to 700 nm [umol/s for W]."""
        return self.photons_between(*PAR_NM)

    @property
    def shares(self):
        return Shares(*(self.photons_between(*band) / self.par_umol for band in BANDS_NM.values()))

    @property
    def umol_per_joule(self):
        """PAR photons per joule of PAR light: the most a lamp of this colour could give."""
        inside = (PAR_NM[0] <= WAVELENGTH_NM) & (PAR_NM[1] >= WAVELENGTH_NM)
        return self.par_umol / float(np.trapezoid(self.power[inside], WAVELENGTH_NM[inside]))

    @property
    def lux_per_umol(self):
        """Lux that comes with one umol m-2 s-1 of PAR."""
        return (
            LUMEN_PER_WATT
            * float(np.trapezoid(self.power * V_LAMBDA, WAVELENGTH_NM))
            / (self.par_umol)
        )


def umol_per_joule(wavelength_nm):
    """Return the photons in a joule of light of one wavelength [umol/J].

    >>> round(umol_per_joule(450), 5)
    3.76171
    """
    return wavelength_nm / J_NM_PER_UMOL


def typical_width_nm(peak_nm):
    """Return the usual width at half maximum of a channel with this peak [nm]."""
    return next(width for limit, width in TYPICAL_WIDTHS_NM if peak_nm <= limit)


def gaussian(peak_nm, width_nm):
    """Return a Gaussian of height 1, `width_nm` wide at half of it (401,)."""
    return np.exp(-4 * np.log(2) * ((WAVELENGTH_NM - peak_nm) / width_nm) ** 2)


def planck(kelvin):
    """Return the power of a black body per nm, any scale (401,). Planck's law."""
    red_end = WAVELENGTH_NM[-1]
    scale = np.expm1(SECOND_RADIATION_NM_K / (red_end * kelvin))
    fall = np.expm1(SECOND_RADIATION_NM_K / (WAVELENGTH_NM * kelvin))
    return (red_end / WAVELENGTH_NM) ** 5 * scale / fall


def chromaticity(power):
    """Return CIE 1931 x, y of a spectrum (2,), by the Gaussian colour matching above."""
    totals = np.array([float(power @ matching(lobes)) for lobes in COLOUR_LOBES])
    return totals[:2] / totals.sum()


def matching(lobes):
    """Return one colour matching function (401,)."""
    total = np.zeros_like(WAVELENGTH_NM)
    for height, middle, left, right in lobes:
        width = np.where(middle > WAVELENGTH_NM, left, right)
        total += height * np.exp(-0.5 * ((WAVELENGTH_NM - middle) / width) ** 2)
    return total


@lru_cache(maxsize=256)
def white(kelvin):
    """Return the Spectrum of a white channel with the colour of a black body at `kelvin`.

    The share of the pump and the place of the phosphor lobe are solved for that colour. A white
    between violet-pumped or multi-band phosphors differs; so it is marked approximate.
    """
    wanted = chromaticity(planck(kelvin))

    def lobes(unknowns):
        pump, phosphor_nm = np.exp(unknowns[0]), unknowns[1]
        blue = pump * gaussian(PUMP_NM, PUMP_WIDTH_NM)
        return blue + gaussian(phosphor_nm, PHOSPHOR_WIDTH_NM)

    start = [np.log(np.clip(kelvin / 6500, 0.2, 4)), 570.0]
    found = root(lambda unknowns: chromaticity(lobes(unknowns)) - wanted, start, tol=1e-10)
    if not found.success:
        raise ValueError(f"No white of {kelvin:g} K was found.")
    return Spectrum(lobes(found.x))


def mixed(channels, par_umol):
    """Return the Spectrum of channels that give `par_umol` (n,) of PAR each.

    >>> both = mixed([Channel("blue", peak_nm=450), Channel("red", peak_nm=660)], [3, 1])
    >>> round(both.shares.blue, 3), round(both.shares.red, 3)
    (0.75, 0.25)
    """
    if not len(channels) or min(par_umol) < 0 or not sum(par_umol) > 0:
        raise ValueError("A mix needs at least one channel that is on.")
    return Spectrum(
        sum(part * channel.spectrum.power for channel, part in zip(channels, par_umol, strict=True))
    )
