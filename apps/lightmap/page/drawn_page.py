"""A page of the light map with what is drawn on it, and where to read next."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from django.utils import timezone

from apps.drawing.cut import OnCut
from apps.lightmap.page.box import BoxDrawing, draw_box
from apps.lightmap.page.map_page import LitPage, MapPage
from apps.lightmap.page.next import next_readings
from apps.lightmap.page.planes import draw_planes, plane_facts, value_table
from apps.lightmap.page.query import CORALS, READINGS, SLANT, QueriedBand
from apps.lightmap.pins import Pin
from apps.lightmap.plan_places import field_now


def with_planes(page: MapPage, pins: Sequence[Pin]) -> MapPage:
    """Return a page with its drawings, if it has a light; Pins are drawn and numbered."""
    if not isinstance(page, LitPage):
        return page
    page = with_band(page, pins)
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
    )


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


def with_band(page: LitPage, pins: Sequence[Pin]) -> LitPage:
    """Return a LitPage whose view draws out its band: the reader's, else that of most pins."""
    band = page.query.band
    usual = usual_band(pins)
    if usual and not band.is_chosen:
        band = QueriedBand(*usual)
    wanted = None if band.problem else (band.low_umol, band.high_umol)
    query, view = replace(page.query, band=band), replace(page.view, wanted=wanted)
    return replace(page, query=query, view=view)


def usual_band(pins: Sequence[Pin]) -> tuple[float, float] | None:
    """Return the band that most pins have [umol m-2 s-1]; of equals, the lower one."""
    bands = Counter(
        (pin.band_low_umol, pin.band_high_umol)
        for pin in pins
        if pin.band_low_umol is not None and pin.band_high_umol is not None
    )
    return min(bands, key=lambda band: (-bands[band], band), default=None)


def with_next(page: MapPage, count: int, pins: Sequence[Pin]) -> MapPage:
    """Return a MapPage with so many points to read next, if it has a light."""
    page = replace(page, query=replace(page.query, next_count=count))
    return next_of(page, count, pins) if isinstance(page, LitPage) else page


def next_of(page: LitPage, count: int, pins: Sequence[Pin]) -> LitPage:
    """Return a LitPage with so many points to read next."""
    # Read next is read now, whatever light is shown.
    field = field_now(page.tank, timezone.now()) or page.light.fitted.mapped
    return replace(page, next=next_readings(field, count, pins))
