"""A rig as it is typed on the page of what-ifs, tried over the light of a tank as it stands."""

from dataclasses import dataclass, replace

from django.http import QueryDict

from apps.accounts.models import User
from apps.common.units import format_length
from apps.drawing.legend import legend_of
from apps.lighting.change.address import light_change_address, rows_query
from apps.lighting.change.rig_forms import PREFIX, RigRows, rig_rows
from apps.lighting.change.title import rig_reason, rig_title
from apps.lighting.models import HungFixture, LightChange
from apps.lightmap.page.looks import LOOKS, PAR, scale_for
from apps.lightmap.page.query import MapQuery
from apps.lightmap.page.usual_view import usual_band
from apps.lightmap.pins import pins_for
from apps.photics.ground.usual_bands import USUAL_DAY_HOURS
from apps.planning.layout.zones.zone_forms import ZoneRows
from apps.planning.models import Plan
from apps.planning.what_if.answer import answer_of
from apps.planning.what_if.drawing import draw_pair
from apps.planning.what_if.keeping import USUAL_DEPTH_SHARE, TriedRig, tried_rig
from apps.planning.what_if.live_light import LiveLight, numbered
from apps.planning.what_if.zones import (
    rows_for,
    zone_problems,
    zone_rows,
    zones_from,
    zones_of,
    zones_query,
)

# What a template is given, by name.
Context = dict[str, object]


def fields_of(plan: Plan, unit: str) -> QueryDict:
    """Return the fields of the page that a saved plan was made from, lengths in `unit`."""
    fields = QueryDict(mutable=True)
    fields.update(rows_query(plan.asked.get("rows", []), unit))
    # Plans of before zones were typed take the usual ones.
    if "zones" in plan.asked:
        fields.update(zones_query(zones_from(plan.asked), unit))
    fields["depth"] = f"{plan.asked.get('depth_cm', 0):g}cm"
    return fields


@dataclass(frozen=True)
class TriedFields:
    """What was typed of a rig and zones, read; `problems` says what can't be."""

    rows: RigRows
    zones: ZoneRows
    depth_cm: float
    problems: list[str]

    def tried_rows(self, live: LiveLight) -> list[HungFixture]:
        """Return the HungFixtures of valid rows, those that hang where none were typed."""
        if not self.rows.is_bound:
            return list(live.rows)
        return [row.instance for row in self.rows.kept()]


def read_fields(live: LiveLight, user: User, fields: QueryDict) -> TriedFields:
    """Return the TriedFields of a page's fields.

    Fixtures come from the user's library and lengths are read in their unit.
    """
    tank, unit = live.tank, user.units
    change = LightChange(tank=tank, happened_at=live.now)
    rows = rig_rows(change, user=user, data=fields if f"{PREFIX}-TOTAL_FORMS" in fields else None)
    for number, form in enumerate(rows.forms):
        form.letter = letter_of(number)
    query = MapQuery.read(fields, tank=tank, unit=unit)
    depth_cm = USUAL_DEPTH_SHARE * tank.depth_cm if query.depth_cm is None else query.depth_cm
    zones = zone_rows(fields, tank, unit, full_hours=hours_of(live))
    problems = list(query.problems)
    if rows.is_bound and not rows.is_valid():
        problems += row_problems(rows)
    if zones.is_bound and not zones.is_valid():
        problems += zone_problems(zones)
    return TriedFields(rows, zones, depth_cm, problems)


def try_rig(
    live: LiveLight,
    user: User,
    fields: QueryDict,
    *,
    drawn_in: str | None = None,
    with_corals: bool = True,
) -> Context:
    """Return rows, depth, problems and, if there are none, what the rig would give.

    Drawn in the user's unit, or in `drawn_in`.
    """
    read, tank, unit = read_fields(live, user, fields), live.tank, user.units
    tried: Context = {"rows": read.rows, "zones": read.zones, "depth_cm": read.depth_cm}
    if read.problems:
        return tried | {"problems": read.problems}
    hours = hours_of(live)
    pairs, rows = zones_of(read.zones, tank, full_hours=hours), read.tried_rows(live)
    # The page has a blank row again for one zone more.
    tried |= {"zones": rows_for(tank, unit, zones=pairs, full_hours=hours)}
    try:
        rig = tried_rig(live, rows, depth_cm=read.depth_cm, zones=pairs)
    except ValueError as problem:
        return tried | {"problems": [str(problem)]}
    if not with_corals:
        changed = rig.changed
        changed = replace(changed, corals=(), within_rock=(), spots_cm=changed.spots_cm[:0])
        rig = replace(rig, changed=changed)
    return tried | {"problems": []} | shown_change(live, rig, drawn_in or unit)


def hours_of(live: LiveLight) -> float:
    """Return the hours of full light a day that bands are turned into PAR by [h]."""
    return live.full_hours or USUAL_DAY_HOURS


def shown_change(live: LiveLight, tried: TriedRig, unit: str) -> Context:
    """Return what a page shows of a TriedRig, lengths in `unit`."""
    tank, changed, rows = live.tank, tried.changed, tried.rows
    kept = {row.number for row in rows}
    look = LOOKS[PAR]
    scale = scale_for(look, usual_band(pins_for(tank)))
    does = rig_title(live.rows, numbered(rows), unit=unit)
    now, then = draw_pair(changed, tank, rows_now=live.rows, rows_then=rows, scale=scale, unit=unit)
    return {
        "tried": tried,
        "changed": changed,
        "answer": answer_of(changed, f"{format_length(tried.depth_cm, unit)} {unit}"),
        "look": look,
        "legend": legend_of(scale),
        "full_hours": hours_of(live),
        "drawing_now": now,
        "drawing_then": then,
        "guessed_outputs": live.guessed_outputs(rows),
        "change_url": light_change_address(
            # Left blank, a title is made of the final change as it is saved.
            tank.pk, rows, summary="" if does else "From a what-if",
            reason=rig_reason(live.rows, numbered(rows)), unit=unit,
            down=[row for row in live.rows if row.number not in kept],
        ),
    }  # fmt: skip


def letter_of(number: int) -> str:
    """Return A, B, ... Z, A2, B2, ...: corals on the same drawing have numbers."""
    turn, place = divmod(number, 26)
    return f"{chr(ord('A') + place)}{turn + 1 if turn else ''}"


def row_problems(rows: RigRows) -> list[str]:
    """Return what is wrong with the rows as sentences that name row and field."""
    problems = list(rows.non_form_errors())
    for form in rows.forms:
        for name, errors in form.errors.items():
            label = form.fields[name].label if name in form.fields else "all of it"
            problems.append(f"Lamp {form.letter}, {label}: {' '.join(errors)}")
    return problems
