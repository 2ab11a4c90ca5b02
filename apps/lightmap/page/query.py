"""What a reader asks the light map for, read from the address: never an error, always a map.

An address that cannot be followed is answered with the nearest that can, and a sentence.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number, whole_number
from apps.common.units import format_length, parse_length_cm
from apps.lightmap.page.looks import LOOKS, PAR
from apps.lightmap.page.next import FEWEST, MOST
from apps.photics import limits
from apps.photics.ground.lengths import UNIT_WORDS
from apps.photics.ground.usual_bands import LPS, SOFT, SPS, band_umol
from apps.tanks.models import Tank

# The groups of corals whose usual band is a tap away.
PRESETS = {SOFT: "Soft", LPS: "LPS", SPS: "SPS"}
FIRST_PRESET = LPS
FIRST_ENDS = band_umol(FIRST_PRESET, full_hours=None)
# One of them: key, name, and its ends [umol m-2 s-1].
Preset = tuple[str, str, float, float]
AS_MEASURED, TODAY = "measured", "today"
# How the water is looked at: from above, cut open from the front, or the whole of it at a slant.
ABOVE, SIDE, SLANT = "above", "side", "3d"
SEEN_WORDS = {ABOVE: "Plan", SIDE: "Side view", SLANT: "3-D view"}
# What lies over the light and can be left out.
CORALS, READINGS, GUESS = "corals", "readings", "guess"
LAYERS = {CORALS: "Corals", READINGS: "Readings", GUESS: "Where it is an estimate"}


@dataclass(frozen=True)
class QueriedBand:
    """The band of light a reader wants to see, as a preset or typed [umol m-2 s-1]."""

    low_umol: float = FIRST_ENDS[0]
    high_umol: float = FIRST_ENDS[1]
    # What is wrong with a typed band, and the two ends as they were typed.
    problem: str = ""
    typed: tuple[str, str] | None = None
    # Whether the reader asked for it.
    is_chosen: bool = False
    # Whose usual band it is, "" for none: its ends follow the hours of the tank's day.
    preset: str = ""

    @classmethod
    def usual(cls, preset: str, full_hours: float | None, *, is_chosen: bool) -> "QueriedBand":
        """Return the band of one of PRESETS under a day's hours [h], None for unstated."""
        low, high = band_umol(preset, full_hours=full_hours)
        return cls(low, high, is_chosen=is_chosen, preset=preset)

    def at_hours(self, full_hours: float | None) -> "QueriedBand":
        """Return the same band in a tank whose day is worth so many full hours [h]."""
        if not self.preset:
            return self
        return self.usual(self.preset, full_hours, is_chosen=self.is_chosen)

    @property
    def texts(self) -> tuple[str, str]:
        """Return the band's two ends as texts: as typed where they are no band."""
        return self.typed or (f"{self.low_umol:g}", f"{self.high_umol:g}")


FIRST_BAND = QueriedBand.usual(FIRST_PRESET, None, is_chosen=False)


@dataclass(frozen=True)
class MapQuery:
    """The wishes in an address; None where it says nothing."""

    survey_pk: int | None = None
    depth_cm: float | None = None
    x_cm: float | None = None
    y_cm: float | None = None
    band: QueriedBand = FIRST_BAND
    shown: str = ""
    view: str = PAR
    since: str = ""  # the key of an earlier light (`dated_light`)
    seen: str = ABOVE
    hidden: frozenset[str] = frozenset()  # keys of LAYERS
    turn: int = 0
    next_count: int | None = None
    problems: tuple[str, ...] = ()

    @classmethod
    def read(cls, params: Mapping[str, str], *, tank: Tank, unit: str) -> "MapQuery":
        """Read the parameters of a GET; lengths without a unit are in the reader's."""
        lengths = [
            read_length(params.get(key, ""), name, end_cm, unit)
            for key, name, end_cm in (
                ("depth", "Depth", tank.depth_cm),
                ("x", "Distance", tank.length_cm),
                ("y", "Distance", tank.width_cm),
            )
        ]
        (depth_cm, _), (x_cm, _), (y_cm, _) = lengths
        shown, view, seen = (params.get(key, "") for key in ("shown", "view", "seen"))
        return cls(
            survey_pk=whole_number(params.get("survey", "")),
            depth_cm=depth_cm,
            x_cm=x_cm,
            y_cm=y_cm,
            band=read_band(params),
            shown=shown if shown in (AS_MEASURED, TODAY) else "",
            view=view if view in LOOKS else PAR,
            since=read_since(params),
            seen=seen if seen in (ABOVE, SIDE, SLANT) else ABOVE,
            hidden=frozenset(params.get("hide", "").split(".")) & LAYERS.keys(),
            turn=whole_number(params.get("turn", ""), digits_max=2) or 0,
            next_count=read_count(params.get("next", "")),
            problems=tuple(problem for _, problem in lengths if problem),
        )


def read_since(params: Mapping[str, str]) -> str:
    """Return the key of the earlier light that is wished for: a typed date before the list."""
    day = params.get("since_day", "").strip()
    return f"day-{day}" if day else params.get("since", "")


def read_count(text: str) -> int | None:
    """Return how many points to read next are wanted, held to what can be shown."""
    count = whole_number(text, digits_max=2)
    return None if count is None else min(max(count, FEWEST), MOST)


def read_length(text: str, name: str, end_cm: float, unit: str) -> tuple[float | None, str]:
    """Return a length [cm] within 0..end_cm, None for nothing readable; and what is wrong."""
    if not text.strip():
        return None, ""
    try:
        length_cm = parse_length_cm(text, unit)
    except UnreadableNumber as problem:
        return None, f"{name}: {problem}"
    outside = ""
    if not 0 <= length_cm <= end_cm:
        outside = f"{name}: the water reaches from 0 to {format_length(end_cm, unit)} {unit}."
    return min(max(length_cm, 0.0), end_cm), outside


def read_band(params: Mapping[str, str]) -> QueriedBand:
    """Return the band of a preset's button, else of the two typed ends."""
    if (preset := params.get("preset", "")) in PRESETS:
        return QueriedBand.usual(preset, None, is_chosen=True)
    low, high = params.get("low", "").strip(), params.get("high", "").strip()
    if not low and not high:
        return FIRST_BAND
    try:
        ends = parse_number(low, words=PAR_WORDS), parse_number(high, words=PAR_WORDS)
    except UnreadableNumber as problem:
        return QueriedBand(problem=str(problem), typed=(low, high), is_chosen=True)
    least, most = limits.BAND_MIN_UMOL, limits.BAND_MAX_UMOL
    if ends[0] >= ends[1]:
        sentence = "The second end must be above the first."
        return QueriedBand(problem=sentence, typed=(low, high), is_chosen=True)
    if not least <= ends[0] < ends[1] <= most:
        sentence = f"A band lies between {least:g} and {most:g}."
        return QueriedBand(problem=sentence, typed=(low, high), is_chosen=True)
    return QueriedBand(*ends, is_chosen=True)


def presets_at(full_hours: float | None) -> tuple[Preset, ...]:
    """Return (key, name, low, high) of the PRESETS under a day's hours [h], None for unstated."""
    return tuple(
        (key, name, *band_umol(key, full_hours=full_hours)) for key, name in PRESETS.items()
    )


def as_address(length_cm: float) -> str:
    """Return a length for an address that means the same to readers of either unit."""
    return f"{round(length_cm, 2):g}cm"


def unit_of(params: Mapping[str, str], default: str) -> str:
    """Return the unit of length an address asks for: "cm" or "in"."""
    unit = params.get("unit", "")
    return unit if unit in ("cm", "in") and unit in UNIT_WORDS else default
