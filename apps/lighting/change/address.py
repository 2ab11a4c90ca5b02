"""The address of the light-change form, filled in with a rig: a plan becomes a dated change."""

from collections.abc import Iterable, Sequence
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from apps.common.units import exact_length
from apps.lighting.change.channel_level_forms import level_cells
from apps.lighting.models import HungFixture

LENGTHS = ("x_cm", "y_cm", "height_cm")
NUMBERS = ("turn_deg", "tilt_deg", "beam_deg", "level_percent", "loss_percent")


def light_change_address(
    tank_pk: int,
    rows: Iterable[HungFixture],
    *,
    summary: str,
    reason: str,
    unit: str,
    factor: float = 1.0,
    happened_at: str | None = None,
    down: Iterable[HungFixture] = (),
    hours: tuple[float, float] | None = None,
) -> str:
    """Return the address; `rows` are HungFixtures, those with a number hang there already.

    `factor` is the light after for 1 before, besides what the rows tell; `down` are the rows taken
    down; `hours` are those from on to off and of each ramp, None for no change of the day; lengths
    are written in `unit`. Each row carries its values whole: one rounded here
    would move a fixture that nobody moved, and make what is measured a forecast.
    """
    query = {"summary": summary[:200], "reason": reason, "factor": f"{factor:.4g}"}
    typed = [typed_of(row) for row in rows] + [typed_of(row) | {"DELETE": "on"} for row in down]
    query |= rows_query(typed, unit)
    if hours:
        query |= {"day_hours": f"{hours[0]:.4g}", "ramp_hours": f"{hours[1]:.4g}"}
    if happened_at:
        query["happened_at"] = happened_at
    return f"{reverse('light_change_new', args=[tank_pk])}?{urlencode(query)}"


def typed_of(row: HungFixture) -> dict[str, Any]:
    """Return what a keeper sets of a HungFixture, with what it is."""
    names = ("number", "fixture_id", "channels", *HungFixture.SETTINGS)
    return {name: getattr(row, name) for name in names}


def rows_query(rows: Sequence[dict[str, Any]], unit: str) -> dict[str, str]:
    """Return the fields of the rows of a rig form, each as a dict; {} without rows."""
    if not rows:
        return {}
    query = {"hung-TOTAL_FORMS": str(len(rows)), "hung-INITIAL_FORMS": str(len(rows))}
    for number, values in enumerate(rows):
        shown = {"fixture": values["fixture_id"], "number": values["number"]}
        shown = {name: "" if value is None else str(value) for name, value in shown.items()}
        for name in LENGTHS:
            shown[name] = exact_length(values[name], unit)
        for name in NUMBERS:
            # Plans kept before fixtures could be tilted or their channels had levels tell none.
            shown[name] = "" if values.get(name) is None else f"{values[name]:.15g}"
        levels = values.get("channel_levels", {})
        shown |= level_cells(values["fixture_id"], values.get("channels", []), levels)
        if "DELETE" in values:
            shown["DELETE"] = values["DELETE"]
        query |= {f"hung-{number}-{name}": text for name, text in shown.items()}
    return query
