"""A fixture's channels at their levels: colour, yield, and another mix of the same PAR."""

from dataclasses import dataclass

import numpy as np

from apps.lighting.optic_models import channel_of
from apps.photics.channel_mix import Mix, moved, par_of, par_per_watt, scaled_to_par, unusual
from apps.photics.spectrum import PAR_NM, WAVELENGTH_NM, Shares, mixed, umol_per_joule

# Full light of all channels stands as 100 in the mixes of one fixture [1].
WHOLE = 100.0
# Levels nearer than this were not moved [1]: a slider shows a thousandth, rounded.
STILL = 0.00051
# A mix begins here, so that there is room both ways [%].
USUAL_PERCENT = 60.0

# The drawing of a spectrum, in its own units.
LEFT, TOP, WIDTH, HEIGHT = 8.0, 22.0, 324.0, 90.0
FOOT = TOP + HEIGHT


@dataclass(frozen=True)
class Yield:
    """PAR photons for the electricity, with the 90 % interval of the output [umol/J]."""

    umol_j: float
    low_umol_j: float
    high_umol_j: float


@dataclass(frozen=True)
class MixLook:
    """One mix of a fixture: its channels' levels, shares of colours, yield, and what is unusual."""

    channels: tuple  # (name, colour words, level in percent), in order
    par_percent: float  # PAR of the mix, of all channels at full level
    shares: Shares | None  # None when all is off
    spectrum: str  # path of photons per nm
    made: Yield | None
    unusual: tuple[str, ...]
    words: str

    @property
    def par_words(self):
        return f"{self.par_percent:.3g}"

    @property
    def blue_percent(self):
        return 100 * self.shares.blue

    @property
    def green_percent(self):
        return 100 * self.shares.green

    @property
    def red_percent(self):
        return 100 * self.shares.red


def asked_mix(fixture, before, asked):
    """Return the Mix for levels asked, at the PAR of the levels before (each in percent).

    One channel moved: the others make up for it, in their ratios. Several: the whole new mix is
    scaled to the PAR before.
    """
    full = np.array([row["share_percent"] for row in fixture.channels], float) / WHOLE
    names = tuple(row["name"] for row in fixture.channels)
    old, new = np.array(before, float) / 100, np.array(asked, float) / 100
    changed = np.flatnonzero(np.abs(new - old) > STILL)
    total = par_of(old, full)
    if not len(changed):
        return Mix(tuple(old.tolist()), total)
    if len(changed) == 1:
        at = int(changed[0])
        return moved(old, full, names, index=at, level=float(new[at]))
    if not par_of(new, full) > 0:
        return Mix(tuple(old.tolist()), total, "With all channels off there is no PAR to keep.")
    found = scaled_to_par(new, full, wanted_umol=total)
    if not found.words:
        return found
    reached = f"{100 * found.par_umol:.0f} of {100 * total:.0f} % of its full PAR"
    return Mix(found.levels, found.par_umol, f"The brightest channel is at full level: {reached}.")


def mix_look(fixture, mix):
    """Return the MixLook of a Mix of a fixture."""
    channels = [channel_of(row) for row in fixture.channels]
    full = np.array([row["share_percent"] for row in fixture.channels], float) / WHOLE
    parts = np.array(mix.levels) * full
    lit = parts.sum() > 0
    spectrum = mixed(channels, parts) if lit else None
    return MixLook(
        channels=tuple(
            (channel.name, words_of(channel), round(100 * level, 6))
            for channel, level in zip(channels, mix.levels, strict=True)
        ),
        par_percent=100 * mix.par_umol,
        shares=spectrum.shares if lit else None,
        spectrum=spectrum_path(spectrum) if lit else "",
        made=yield_of(fixture, channels, full, mix.levels),
        unusual=unusual(spectrum.shares) if lit else (),
        words=mix.words,
    )


def words_of(channel):
    if channel.peak_nm is not None:
        return f"{channel.peak_nm:g} nm"
    return f"{channel.white_kelvin:g} K"


def yield_of(fixture, channels, full, levels):
    """Return the Yield of a mix, None where watts or output are not told or all is off.

    The watts of a channel are not told: each is taken to turn the same share of electricity into
    light, so its watts go with its photons over the photons in a joule of its colour. House rule.
    """
    output = fixture.output()
    if output is None or not fixture.watts:
        return None
    power = full / np.array([channel.spectrum.umol_per_joule for channel in channels])
    watts = fixture.watts * power / power.sum()
    found = par_per_watt(levels, full * output.ppf_umol_s, watts)
    if found is None:
        return None
    low, high = (end / output.ppf_umol_s for end in (output.low_umol_s, output.high_umol_s))
    return Yield(found, found * low, found * high)


def spectrum_path(spectrum):
    """Return the closed path of the photons per nm from 400 to 700 nm."""
    inside = (PAR_NM[0] <= WAVELENGTH_NM) & (PAR_NM[1] >= WAVELENGTH_NM)
    photons = (spectrum.power * umol_per_joule(WAVELENGTH_NM))[inside]
    x = LEFT + WIDTH * (WAVELENGTH_NM[inside] - PAR_NM[0]) / (PAR_NM[1] - PAR_NM[0])
    y = FOOT - HEIGHT * photons / photons.max()
    corners = "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x[::2], y[::2], strict=True))
    return f"M{LEFT} {FOOT}L{corners}V{FOOT}Z"
