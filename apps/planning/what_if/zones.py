"""The zones a what-if counts shares of: those of the layout search, typed beside the rig."""

from collections.abc import Sequence

from django.http import QueryDict

from apps.common.units import format_length
from apps.planning.documents import Document, each
from apps.planning.layout.zones.fitted_zones import FORM_ENDS
from apps.planning.layout.zones.folded_rows import empty_permitted
from apps.planning.layout.zones.inhabitants import usual_zones, wishes, wishes_of
from apps.planning.layout.zones.zone_forms import (
    ZONES_MOST,
    OriginalZone,
    ZoneRows,
    of_zones,
    zone_texts,
)
from apps.planning.stored_layout import read_origin, read_zone
from apps.tanks.models import Tank

PREFIX = "zone"


def zone_rows(fields: QueryDict, tank: Tank, unit: str, *, full_hours: float) -> ZoneRows:
    """Return the ZoneRows of a page's fields; unbound, of the usual zones, where none are typed.

    `full_hours` of light a day [h] turn daily light into PAR.
    """
    data = fields if f"{PREFIX}-TOTAL_FORMS" in fields else None
    zones = () if data else zones_of_life(tank, full_hours)
    return rows_for(tank, unit, data=data, zones=zones, full_hours=full_hours)


def rows_for(
    tank: Tank,
    unit: str,
    *,
    full_hours: float,
    zones: Sequence[OriginalZone] = (),
    data: QueryDict | None = None,
) -> ZoneRows:
    """Return ZoneRows bound to data, or of Zones with a blank row after them."""
    blank: list[dict[str, object]] = [{}] if len(zones) < ZONES_MOST else []
    initial = None if data else [*(zone_texts(*zone) for zone in zones), *blank]
    box = {"box": tank.scene(), "unit": unit, "full_hours": full_hours}
    return empty_permitted(ZoneRows(data, prefix=PREFIX, initial=initial, form_kwargs=box))


def zones_of_life(tank: Tank, full_hours: float) -> tuple[OriginalZone, ...]:
    """Return the zones a what-if starts with: those of what lives there."""
    wished = wishes(wishes_of(tank))
    return tuple(usual_zones(wished, full_hours=full_hours, box=tank.scene()))


def zones_of(rows: ZoneRows, tank: Tank, *, full_hours: float) -> tuple[OriginalZone, ...]:
    """Return the Zones of valid ZoneRows, each with its origin."""
    if not rows.is_bound:
        return zones_of_life(tank, full_hours)
    return tuple((form.zone(), form.origin()) for form in rows.kept())


def zone_problems(rows: ZoneRows) -> list[str]:
    """Return what is wrong with ZoneRows as sentences that name zone and field."""
    problems = list(rows.non_form_errors())
    for number, form in enumerate(rows.forms, start=1):
        for name, errors in form.errors.items():
            label = form.fields[name].label if name in form.fields else "all of it"
            problems.append(f"Zone {number}, {label}: {' '.join(errors)}")
    return problems


def zones_query(zones: Sequence[OriginalZone], unit: str) -> dict[str, str]:
    """Return the fields of Zones, lengths in `unit`."""
    query = {f"{PREFIX}-TOTAL_FORMS": str(len(zones)), f"{PREFIX}-INITIAL_FORMS": "0"}
    for number, (zone, origin) in enumerate(zones):
        for name, value in zone_texts(zone, origin).items():
            if name in FORM_ENDS and isinstance(value, float | int):
                value = format_length(value, unit, places=2)
            query[f"{PREFIX}-{number}-{name}"] = str(value)
    return query


def zones_from(stored: Document) -> tuple[OriginalZone, ...]:
    """Return the Zones of a plan's stored documents, with what is known of their origin."""
    zones = each(stored["zones"], read_zone)
    return tuple(of_zones(zones, each(stored.get("origins", []), read_origin)))
