"""Every note with the light before it, and every coral compared, as CSV."""

import csv
import io
from collections.abc import Sequence

from apps.outcomes.association.correlation import Outcomes
from apps.outcomes.association.events import Direction, episodes
from apps.outcomes.exposure.exposure import Part
from apps.outcomes.exposure.visit_exposure import VisitExposure, visit_exposure

COLUMNS = (
    *("date", "coral", "group", "genus", "seen", "event", "par_umol", "par_low", "par_high"),
    *("dli_mol", "used_to", "used_to_unit", "ratio", "ratio_low", "ratio_high"),
    *("rise_log2", "fall_log2", "hours_above_band", "days_since_change", "extrapolated"),
    "water_events",
)
CORAL_COLUMNS = (
    *("question", "coral", "group", "event_on", "mean_par_umol", "par_low", "par_high", "days"),
    *("band_low", "band_high", "for_its_band", "state", "extrapolated"),
)
# A cell that begins so is run as a formula by spreadsheets.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
EVENT_WORDS = {Direction.LIGHTER: "lighter", Direction.DARKER: "darker"}


def exposure_csv(outcomes: Outcomes, part: Part) -> str:
    """Return the CSV of a tank's Outcomes: a line for each note of a Part, oldest first.

    `seen` holds all signs, the main one first; `event` is lighter or darker on the first note of
    an event; intervals are 90 %.
    """
    book = outcomes.book
    rows: list[list[str]] = []
    for coral in book.corals:
        firsts = {
            event.pk: EVENT_WORDS[kind] for kind in Direction for event in episodes(coral, kind)
        }
        for note in (note for note in coral.notes.all() if part.holds(note.noted_on)):
            causes = [
                cause.words for cause in outcomes.competing_causes if cause.reaches(note.noted_on)
            ]
            cells = [
                *(note.noted_on.isoformat(), plain(coral.name), coral.group, plain(coral.genus)),
                *(" ".join(note.signs), firsts.get(note.pk, "")),
                *light_cells(visit_exposure(book, coral, note.noted_on)),
                plain("; ".join(causes)),
            ]
            rows.append(cells)
    rows.sort(key=lambda cells: cells[:2])
    return as_csv(COLUMNS, rows)


def comparison_csv(outcomes: Outcomes) -> str:
    """Return the CSV of the corals that were compared: a line for each in each question.

    `for_its_band` is the light for 1 at the middle of the coral's own band.
    """
    groups, rows = {coral.pk: coral.group for coral in outcomes.book.corals}, []
    for comparison in outcomes.comparisons:
        for coral in comparison.corals:
            light, place = coral.light, coral.place
            cells = [
                *(EVENT_WORDS[comparison.direction], plain(coral.name), groups[coral.coral_pk]),
                coral.event.first_on.isoformat() if coral.event else "",
                *(rounded(v, 1) for v in (light.par_umol, light.low_umol, light.high_umol)),
                rounded(light.days, 1),
                *(rounded(v, 0) for v in (place.band.low_umol, place.band.high_umol)),
                *(rounded(place.ratio, 3), place.state, "yes" if light.extrapolated else "no"),
            ]
            rows.append(cells)
    return as_csv(CORAL_COLUMNS, rows)


def as_csv(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return the text of a CSV of rows of cells under its columns."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def light_cells(exposure: VisitExposure | None) -> list[str]:
    """Return the cells of a VisitExposure, empty where nothing is known."""
    if exposure is None:
        return [""] * 14
    light, before = exposure.light, exposure.before
    return [
        *(rounded(v, 1) for v in (light.par_umol, light.low_umol, light.high_umol)),
        rounded(light.dli_mol, 2),
        rounded(before.acclimated, 2),
        "umol m-2 s-1" if exposure.by_par else "mol m-2 d-1",
        *(rounded(v, 3) for v in (exposure.ratio, exposure.ratio_low, exposure.ratio_high)),
        *(rounded(v, 3) for v in (before.rise_log2, before.fall_log2)),
        rounded(exposure.hours_above.value if exposure.hours_above else None, 2),
        rounded(exposure.days_since_change, 0),
        "yes" if light.extrapolated else "no",
    ]


def rounded(value: float | None, digits: int) -> str:
    return "" if value is None else f"{value:.{digits}f}"


def plain(text: str) -> str:
    """Return text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
