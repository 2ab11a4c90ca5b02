"""Every note with the light before it, as CSV."""

import csv
import io

from apps.outcomes.events import Direction, episodes
from apps.outcomes.visit_exposure import visit_exposure

COLUMNS = (
    *("date", "coral", "group", "genus", "seen", "event", "par_umol", "par_low", "par_high"),
    *("dli_mol", "used_to", "used_to_unit", "ratio", "ratio_low", "ratio_high"),
    *("rise_log2", "fall_log2", "hours_above_band", "days_since_change", "extrapolated"),
    "water_events",
)
# A cell that begins so is run as a formula by spreadsheets.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
EVENT_WORDS = {Direction.LIGHTER: "lighter", Direction.DARKER: "darker"}


def exposure_csv(outcomes):
    """Return the CSV of a tank's Outcomes: a line for each note, oldest first.

    `seen` holds all signs, the main one first; `event` is lighter or darker on the first note of
    an event; intervals are 90 %.
    """
    book, rows = outcomes.book, []
    for coral in book.corals:
        firsts = {
            event.pk: EVENT_WORDS[kind] for kind in Direction for event in episodes(coral, kind)
        }
        for note in coral.notes.all():
            rivals = [rival.words for rival in outcomes.rivals if rival.reaches(note.noted_on)]
            cells = [
                *(note.noted_on.isoformat(), plain(coral.name), coral.group, plain(coral.genus)),
                *(" ".join(note.signs), firsts.get(note.pk, "")),
                *light_cells(visit_exposure(book, coral, note.noted_on)),
                plain("; ".join(rivals)),
            ]
            rows.append(cells)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows(sorted(rows, key=lambda cells: cells[:2]))
    return out.getvalue()


def light_cells(found):
    """Return the cells of a VisitExposure, empty where nothing is known."""
    if found is None:
        return [""] * 14
    light, before = found.light, found.before
    return [
        *(rounded(v, 1) for v in (light.par_umol, light.low_umol, light.high_umol)),
        rounded(light.dli_mol, 2),
        rounded(before.used_to, 2),
        "umol m-2 s-1" if found.by_par else "mol m-2 d-1",
        *(rounded(v, 3) for v in (found.ratio, found.ratio_low, found.ratio_high)),
        *(rounded(v, 3) for v in (before.rise_log2, before.fall_log2)),
        rounded(found.hours_above.value if found.hours_above else None, 2),
        rounded(found.days_since_change, 0),
        "yes" if light.extrapolated else "no",
    ]


def rounded(value, digits):
    return "" if value is None else f"{value:.{digits}f}"


def plain(text):
    """Return text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
