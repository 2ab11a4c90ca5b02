"""From lux to PAR: an estimate, for an eye's curve is not a leaf's."""

from apps.photics.ground.arrays import FloatOrArray

# Lux that goes with one umol m-2 s-1 of PAR. Thimijan & Heins 1983, HortScience 18:818-822,
# Table 3, for sunlight and incandescent light; the 450 nm emitter from V(450 nm) = 0.038 and
# 683 lm/W over 3.762 umol/J. Lamps of one name differ; blue-heavy reef light lies in between.
LUX_PER_UMOL = {
    "sunlight": 54.0,
    "incandescent": 50.0,
    "a pure blue emitter at 450 nm": 6.9,
}


def par_from_lux(lux: FloatOrArray, *, lux_per_umol: float) -> FloatOrArray:
    """Return PAR from illuminance, of its shape [umol m-2 s-1].

    `lux` scalar or array [lx], zero or more; `lux_per_umol` what the light's colour makes of one
    umol m-2 s-1 [lx], as in LUX_PER_UMOL. Raises ValueError unless it is above zero. As good as
    that number: a definition, no law.

    >>> par_from_lux(5400.0, lux_per_umol=54.0)
    100.0
    """
    if not lux_per_umol > 0:
        raise ValueError("Light that gives no lux cannot be measured with a lux meter.")
    return lux / lux_per_umol
