"""Of which moment the light shown is, and how sure it is, in a line."""

import datetime as dt
from dataclasses import dataclass

from apps.common.units import plus_minus
from apps.lightmap.stated_outputs import OutputSource


@dataclass(frozen=True)
class MomentWords:
    """The line's first words, which stand out, and the rest of it."""

    title: str
    rest: str


OUTPUT_WORDS = {
    OutputSource.STATED: "rated output",
    OutputSource.MEASURED: "output as measured over another tank",
    OutputSource.BOTH: "output (some measured over another tank, some rated)",
}


def moment_words(
    *,
    measured_on: dt.date | None,
    predicted_since: dt.date | None = None,
    changed_since: bool = False,
    newer_exists: bool = False,
    as_of: dt.date | None = None,
    half_width_percent: float | None = None,
    rests_on: str = "",
    output_source: OutputSource = OutputSource.STATED,
) -> MomentWords:
    """Return the MomentWords of a light measured on a day; None of one that nobody measured.

    `predicted_since` where it is followed through the light log, `changed_since` where it is shown
    as measured although the light changed, `as_of` where the page is of another day than today,
    `half_width_percent` half of the map's 90 % interval. `rests_on` are the readings it rests on,
    where those of the day alone would be too few for it; `output_source` is how the lamps' output
    is known where nobody measured the light.
    """
    if measured_on is None:
        output = OUTPUT_WORDS[output_source]
        return MomentWords(
            "Not measured", f": calculated from the lamps’ {output}, for clear water"
        )
    measured = f"{measured_on:%-d %b %Y}"
    if predicted_since:
        title = f"Predicted since {predicted_since:%-d %b %Y}"
        rest = f" from {rests_on}" if rests_on else f" from the survey of {measured}"
    else:
        title = f"Measured: {rests_on}" if rests_on else f"Measured {measured}"
        changed = "the light has changed since"
        if as_of is not None:
            changed = f"by {as_of:%-d %b %Y} the light had changed"
        rest = f"; {changed}" if changed_since else ""
        if newer_exists and not changed_since:
            rest = "; there is a newer survey"
    if half_width_percent is not None:
        rest += f", {sure_to(half_width_percent)}"
    return MomentWords(title, rest)


def sure_to(half_width_percent: float) -> str:
    """Return in words how sure a light is, by half of its 90 % interval [%]."""
    return f"{plus_minus(half_width_percent)} (90\u00a0%)"
