"""Several lamps alike put into the rows of a rig form at once, spread evenly along the tank."""

from collections.abc import Sequence
from typing import Any

from django.http import QueryDict

from apps.common.numbers import whole_number
from apps.common.units import exact_length
from apps.lighting.change.address import rows_query, typed_of
from apps.lighting.change.rig_forms import PREFIX, typed_rows
from apps.lighting.models import HungFixture
from apps.photics.limits import FIXTURES_MAX
from apps.tanks.models import Tank

# The fields that ask for them, and the button that sends them.
FIXTURE, COUNT, ADD = "alike_fixture", "alike_count", "alike_add"
# So many at once at most: chosen, as more are no row along one tank.
ALIKE_MOST = 12
# How high they hang where nothing hangs yet [cm]: our own choice, a usual height.
USUAL_HEIGHT_CM = 20.0


def with_alike(
    fields: QueryDict, tank: Tank, hanging: Sequence[HungFixture], *, unit: str
) -> QueryDict:
    """Return the fields of a rig form with the lamps that they ask for as further rows.

    `hanging` are the rows where none are typed yet. Fields that ask for none come back alike.
    """
    count = whole_number(fields.get(COUNT, ""))
    fixture = fields.get(FIXTURE, "")
    if ADD not in fields or count is None or not fixture:
        return fields
    rows = rows_of(fields, hanging, unit)
    many = min(count, ALIKE_MOST, FIXTURES_MAX - len(rows))
    height = next((row["height_cm"] for row in rows if row["height_cm"]), None)
    rows += [
        {
            "fixture": fixture,
            "x_cm": exact_length(tank.length_cm * (k + 0.5) / many, unit),
            "y_cm": exact_length(tank.width_cm / 2, unit),
            "height_cm": height or exact_length(USUAL_HEIGHT_CM, unit),
            "turn_deg": "0",
            "level_percent": "100",
        }
        for k in range(many)
    ]
    return with_rows(fields, rows)


def rows_of(fields: QueryDict, hanging: Sequence[HungFixture], unit: str) -> list[dict[str, Any]]:
    """Return what each row of a rig form says: as typed, else as it hangs."""
    if f"{PREFIX}-TOTAL_FORMS" in fields:
        return list(typed_rows(fields))
    return list(typed_rows(rows_query([typed_of(row) for row in hanging], unit)))


def with_rows(fields: QueryDict, rows: Sequence[dict[str, Any]]) -> QueryDict:
    """Return fields whose rig has these rows, and that ask for none alike."""
    result = QueryDict(mutable=True)
    for name, value in fields.items():
        if not name.startswith(f"{PREFIX}-") and name not in (FIXTURE, COUNT, ADD):
            result[name] = value
    result[f"{PREFIX}-TOTAL_FORMS"] = str(len(rows))
    result[f"{PREFIX}-INITIAL_FORMS"] = str(sum(bool(row.get("number")) for row in rows))
    for number, row in enumerate(rows):
        for name, text in row.items():
            if text:
                result[f"{PREFIX}-{number}-{name}"] = text
    return result
