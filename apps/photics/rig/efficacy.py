"""Photons a lamp makes of a joule, by what shines, where only its watts are known."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Efficacy:
    """Photon efficacy of whole fixtures, driver and optics included, with 90 % interval [umol/J].

    `source` says in words where it is from.
    """

    usual: float
    low: float
    high: float
    source: str


# Nelson & Bugbee 2014, PLoS ONE 9:e99010, doi:10.1371/journal.pone.0099010: ten LED fixtures gave
# 0.89 to 1.70, their best fluorescent 0.95, their best ceramic metal halide 1.46. Those are lamps
# for plants. Of lamps over reefs nobody published a like table: the middle of LEDs is taken a
# little above the geometric middle of that range for what they gained since, and its ends are
# wider; ends of the others are typical of the trade, from memory.
MEASURED_LAMPS = "lamps for plants (Nelson & Bugbee 2014), wider for those over reefs"
EFFICACIES = {
    "led": Efficacy(1.35, 0.85, 2.1, MEASURED_LAMPS),
    "tube": Efficacy(0.85, 0.6, 1.1, MEASURED_LAMPS),
    "halide": Efficacy(1.1, 0.7, 1.5, MEASURED_LAMPS),
}
