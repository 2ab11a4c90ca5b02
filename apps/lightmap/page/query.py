"""What a reader asks the light map for, read from the address: never an error, always a map.

An address that cannot be followed is answered with the nearest that can, and a sentence.
"""

from dataclasses import dataclass, field

from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number
from apps.common.units import format_length, parse_length_cm
from apps.lightmap.page.looks import LOOKS, PAR
from apps.lightmap.page.next import FEWEST, MOST
from apps.photics import limits
from apps.photics.ground.lengths import UNIT_WORDS

# Common practice, no published source.
BAND_PRESETS = {
    "soft-lps": ("Soft, LPS", 75.0, 150.0),
    "sps": ("SPS", 200.0, 350.0),
}
FIRST_PRESET = "soft-lps"
AS_MEASURED, TODAY = "measured", "today"


@dataclass
class Asked:
    """The wishes in an address; None where it says nothing."""

    survey_pk: int | None = None
    depth_cm: float | None = None
    x_cm: float | None = None
    y_cm: float | None = None
    band_low_umol: float = BAND_PRESETS[FIRST_PRESET][1]
    band_high_umol: float = BAND_PRESETS[FIRST_PRESET][2]
    shown: str = ""
    view: str = PAR
    turn: int = 0
    next_count: int | None = None
    problems: list[str] = field(default_factory=list)
    # What is wrong with a typed band, and the two ends as they were typed.
    band_problem: str = ""
    band_typed: tuple[str, str] | None = None

    @classmethod
    def read(cls, params, *, tank, unit):
        """Read the parameters of a GET; lengths without a unit are in the reader's."""
        asked = cls()
        survey = params.get("survey", "")
        if survey.isascii() and survey.isdigit() and len(survey) < 19:
            asked.survey_pk = int(survey)
        asked.depth_cm = asked.length(params.get("depth"), "Depth", tank.depth_cm, unit)
        asked.x_cm = asked.length(params.get("x"), "Distance", tank.length_cm, unit)
        asked.y_cm = asked.length(params.get("y"), "Distance", tank.width_cm, unit)
        if params.get("shown") in (AS_MEASURED, TODAY):
            asked.shown = params["shown"]
        if params.get("view") in LOOKS:
            asked.view = params["view"]
        asked.turn = whole_number(params.get("turn", "")) or 0
        count = whole_number(params.get("next", ""))
        if count is not None:
            asked.next_count = min(max(count, FEWEST), MOST)
        asked.read_band(params)
        return asked

    def length(self, text, name, end_cm, unit):
        """Return a length [cm] within 0..end_cm, or None for nothing readable."""
        if not (text or "").strip():
            return None
        try:
            found = parse_length_cm(text, unit)
        except UnreadableNumber as problem:
            self.problems.append(f"{name}: {problem}")
            return None
        if not 0 <= found <= end_cm:
            end = format_length(end_cm, unit)
            self.problems.append(f"{name}: the water reaches from 0 to {end} {unit}.")
        return min(max(found, 0.0), end_cm)

    def read_band(self, params):
        """Take the band of a preset's button, else the two typed ends."""
        if params.get("preset") in BAND_PRESETS:
            _, self.band_low_umol, self.band_high_umol = BAND_PRESETS[params["preset"]]
            return
        low, high = params.get("low", "").strip(), params.get("high", "").strip()
        if not low and not high:
            return
        try:
            ends = parse_number(low, words=PAR_WORDS), parse_number(high, words=PAR_WORDS)
        except UnreadableNumber as problem:
            self.band_problem, self.band_typed = str(problem), (low, high)
            return
        least, most = limits.BAND_MIN_UMOL, limits.BAND_MAX_UMOL
        if ends[0] >= ends[1]:
            self.band_problem = "The second end must be above the first."
        elif not least <= ends[0] < ends[1] <= most:
            self.band_problem = f"A band lies between {least:g} and {most:g}."
        if self.band_problem:
            self.band_typed = low, high
            return
        self.band_low_umol, self.band_high_umol = ends

    @property
    def band_texts(self):
        """Return the band's two ends as texts: as typed where they are no band."""
        return self.band_typed or (f"{self.band_low_umol:g}", f"{self.band_high_umol:g}")


def whole_number(text):
    """Return a short whole number, or None for anything else."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 3 else None


def as_address(length_cm):
    """Return a length for an address that means the same to readers of either unit."""
    return f"{round(length_cm, 2):g}cm"


def unit_asked(params, default):
    """Return the unit of length an address asks for: "cm" or "in"."""
    unit = params.get("unit")
    return unit if unit in ("cm", "in") and unit in UNIT_WORDS else default
