"""A page of the light map with what is drawn on it, an earlier light, and where to read next."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils import timezone

from apps.drawing.cut import OnCut
from apps.lighting.history import light_history
from apps.lightmap.page.box import BoxDrawing, draw_box
from apps.lightmap.page.changed import (
    UNKNOWN_THEN,
    ChangedField,
    CutChange,
    changed_field,
    chosen_earlier,
    cut_change,
    earlier_lights,
    than_words,
)
from apps.lightmap.page.looks import CHANGE, LOOKS
from apps.lightmap.page.map_page import LitPage, MapPage
from apps.lightmap.page.next import next_readings
from apps.lightmap.page.planes import MapPlanes, draw_planes, plane_facts, value_table
from apps.lightmap.page.query import CORALS, READINGS, SIDE, SLANT, QueriedBand
from apps.lightmap.page.usual_view import corals_depth_cm, usual_band
from apps.lightmap.pins import Pin
from apps.lightmap.plan_places import field_now


def beside_earlier(page: LitPage) -> LitPage:
    """Return a LitPage that knows what it may be set against, and is where its query says so."""
    tank, light = page.tank, page.light
    earlier = earlier_lights(tank, page.surveys, light_history(tank), light.moment)
    page = replace(page, earlier=earlier)
    since = chosen_earlier(earlier, page.query.since, tank)
    if page.query.view != CHANGE or since is None:
        return page
    field = changed_field(since, light, page.chosen, tank)
    if field is None:
        return replace(page, view=replace(page.view, look_problem=UNKNOWN_THEN))
    than = than_words(since, field.earlier)
    view = replace(page.view, look=LOOKS[CHANGE], look_problem="", than=than)
    return replace(page, light=replace(light, field=field), view=view, since=since)


def with_planes(page: MapPage, pins: Sequence[Pin]) -> MapPage:
    """Return a page with its drawings, if it has a light; Pins are drawn and numbered."""
    return lit_planes(page, pins) if isinstance(page, LitPage) else page


def lit_planes(page: LitPage, pins: Sequence[Pin]) -> LitPage:
    """Return a LitPage with its drawings."""
    page = beside_pins(page, pins)
    field, band = page.light.field, page.query.band
    if page.query.next_count:
        page = next_of(page, page.query.next_count, pins)
    lying_over = over(page, pins)
    planes = draw_planes(field, page.tank, page.view, over=lying_over, pins=pins, unit=page.unit)
    return replace(
        page,
        planes=planes,
        box=box_of(page, pins) if page.query.seen == SLANT else None,
        facts=plane_facts(
            planes.level,
            low_umol=band.low_umol,
            high_umol=band.high_umol,
            common_log=field.common_log,
            rocks=page.tank.scene_rocks(),
        ),
        table=value_table(field, page.tank, page.view.depth_cm),
        change=change_of(page, planes),
    )


def change_of(page: LitPage, planes: MapPlanes) -> CutChange | None:
    """Return how the cut that is shown differs from an earlier light, None where none is chosen."""
    field = page.light.field
    if not isinstance(field, ChangedField) or page.query.seen == SLANT:
        return None
    cut = planes.upright if page.query.seen == SIDE else planes.level
    return cut_change(field, cut, page.tank, page.view.than)


def over(page: LitPage, pins: Sequence[Pin]) -> OnCut:
    """Return what lies over the light: all that the reader did not hide."""
    hidden = page.query.hidden
    return OnCut(
        () if READINGS in hidden else page.rows,
        () if CORALS in hidden else pins,
        page.next.points if page.next else page.marks,
    )


def box_of(page: LitPage, pins: Sequence[Pin]) -> BoxDrawing:
    """Return the whole water at a slant, turned as the query says."""
    shown = () if CORALS in page.query.hidden else pins
    return draw_box(page.light, page.tank, page.view.look, shown, turn=page.query.turn)


def beside_pins(page: LitPage, pins: Sequence[Pin]) -> LitPage:
    """Return a LitPage whose band and depth are the reader's, else those of most pins."""
    query, view, usual = page.query, page.view, usual_band(pins)
    if usual and not query.band.is_chosen:
        query = replace(query, band=QueriedBand(*usual))
    wanted = None if query.band.problem else (query.band.low_umol, query.band.high_umol)
    depth_cm = corals_depth_cm(page.tank, pins, usual) if query.depth_cm is None else None
    if depth_cm is not None:
        view = replace(view, depth_cm=depth_cm)
    return replace(page, query=query, view=replace(view, wanted=wanted))


def with_next(page: MapPage, count: int, pins: Sequence[Pin]) -> MapPage:
    """Return a MapPage with so many points to read next, if it has a light."""
    page = replace(page, query=replace(page.query, next_count=count))
    return next_of(page, count, pins) if isinstance(page, LitPage) else page


def next_of(page: LitPage, count: int, pins: Sequence[Pin]) -> LitPage:
    """Return a LitPage with so many points to read next."""
    # Read next is read now, whatever light is shown.
    field = field_now(page.tank, timezone.now()) or page.light.fitted.mapped
    return replace(page, next=next_readings(field, count, pins))
