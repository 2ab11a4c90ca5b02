"""The address of the light-change form, filled in with a rig: a plan becomes a dated change."""

from urllib.parse import urlencode

from django.urls import reverse

from apps.common.units import format_length

LENGTHS, NUMBERS = ("x_cm", "y_cm", "height_cm"), ("turn_deg", "beam_deg", "level_percent")


def light_change_address(tank_pk, rows, *, summary, factor, unit, happened_at=None):
    """Return the address; `rows` are dicts of what a keeper sets of each fixture, maybe none.

    `factor` is the light after for 1 before, lengths are written in `unit`.
    """
    query = {"summary": summary[:200], "factor": f"{factor:.3f}", **rows_query(rows, unit)}
    if happened_at:
        query["happened_at"] = happened_at
    return f"{reverse('light_change_new', args=[tank_pk])}?{urlencode(query)}"


def rows_query(rows, unit):
    """Return the fields of the rows of a rig form; {} without rows."""
    if not rows:
        return {}
    query = {"hung-TOTAL_FORMS": str(len(rows)), "hung-INITIAL_FORMS": str(len(rows))}
    for number, values in enumerate(rows):
        shown = {"fixture": str(values["fixture_id"])}
        for name in LENGTHS:
            shown[name] = format_length(values[name], unit, places=2)
        for name in NUMBERS:
            shown[name] = "" if values[name] is None else f"{values[name]:.4g}"
        query |= {f"hung-{number}-{name}": text for name, text in shown.items()}
    return query
