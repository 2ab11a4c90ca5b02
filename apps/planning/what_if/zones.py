"""The zones a what-if counts shares of: those of the layout search, typed beside the rig."""

from collections.abc import Sequence

from django.http import QueryDict

from apps.common.units import format_length
from apps.photics.layout.question import Zone
from apps.planning.documents import each
from apps.planning.layout.forms import ZONES_MOST, ZoneForm, ZoneRows
from apps.planning.layout.question_forms import Initial, empty_permitted, zone_texts
from apps.planning.layout.zone_presets import presets_for
from apps.planning.stored_layout import read_zone
from apps.tanks.models import Tank

PREFIX = "zone"


def zone_rows(fields: QueryDict, tank: Tank, unit: str) -> ZoneRows:
    """Return the ZoneRows of a page's fields; unbound, of the usual zones, where none are typed."""
    data = fields if f"{PREFIX}-TOTAL_FORMS" in fields else None
    return rows_for(tank, unit, data=data, zones=() if data else usual_zones(tank))


def rows_for(
    tank: Tank, unit: str, *, zones: Sequence[Zone] = (), data: QueryDict | None = None
) -> ZoneRows:
    """Return ZoneRows bound to data, or of Zones with a blank row after them."""
    blank: list[Initial] = [{}] if len(zones) < ZONES_MOST else []
    initial = None if data else [*(zone_texts(zone) for zone in zones), *blank]
    rows = ZoneRows(
        data, prefix=PREFIX, initial=initial, form_kwargs={"box": tank.scene(), "unit": unit}
    )
    return empty_permitted(rows)


def usual_zones(tank: Tank) -> tuple[Zone, ...]:
    """Return the zones a what-if starts with: the presets of what lives there."""
    box = tank.scene()
    size = {"length_cm": box.length_cm, "width_cm": box.width_cm, "depth_cm": box.depth_cm}
    return tuple(preset.zone(**size) for preset in presets_for(tank))


def zones_of(rows: ZoneRows, tank: Tank) -> tuple[Zone, ...]:
    """Return the Zones of valid ZoneRows."""
    if not rows.is_bound:
        return usual_zones(tank)
    return tuple(form.zone() for form in rows.kept())


def zone_problems(rows: ZoneRows) -> list[str]:
    """Return what is wrong with ZoneRows as sentences that name zone and field."""
    problems = list(rows.non_form_errors())
    for number, form in enumerate(rows.forms, start=1):
        for name, errors in form.errors.items():
            label = form.fields[name].label if name in form.fields else "all of it"
            problems.append(f"Zone {number}, {label}: {' '.join(errors)}")
    return problems


def zones_query(zones: Sequence[Zone], unit: str) -> dict[str, str]:
    """Return the fields of Zones, lengths in `unit`."""
    query = {f"{PREFIX}-TOTAL_FORMS": str(len(zones)), f"{PREFIX}-INITIAL_FORMS": "0"}
    ends = {f"{axis}_{end}" for axis, _, _ in ZoneForm.RANGES for end in ("from", "to")}
    for number, zone in enumerate(zones):
        for name, value in zone_texts(zone).items():
            if name in ends and isinstance(value, float | int):
                value = format_length(value, unit, places=2)
            query[f"{PREFIX}-{number}-{name}"] = str(value)
    return query


def zones_from(stored: object) -> tuple[Zone, ...]:
    """Return the Zones of a plan's stored documents."""
    return each(stored, read_zone)
