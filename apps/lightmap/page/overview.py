"""A tank's light today as a small picture of its map."""

import datetime as dt
from collections.abc import Sequence

from django.urls import reverse

from apps.drawing.cut import OnCut
from apps.lightmap.page.drawn_page import beside_pins
from apps.lightmap.page.map_page import LitPage, map_page
from apps.lightmap.page.moment import sure_to
from apps.lightmap.page.planes import MapPlanes, draw_planes
from apps.lightmap.page.query import MapQuery
from apps.lightmap.pins import Pin, pins_for
from apps.photics.ground.lengths import CM
from apps.tanks.models import Tank
from apps.tanks.overview import Picture

TEMPLATE = "lightmap/page/_light_map_picture.html"


def map_pictures(tank: Tank, now: dt.datetime, unit: str) -> list[Picture]:
    """Return the Picture of a tank's light map; none before anything is known of it."""
    page = page_of(tank, now, unit=unit)
    if page is None:
        return []
    pins = pins_for(tank)
    page = beside_pins(page, pins)
    drawn = drawn_with(page, pins)
    return [Picture(TEMPLATE, "Light map", page_address(page), picture_words(page), drawn)]


def page_of(tank: Tank, now: dt.datetime, *, unit: str, shown: str = "") -> LitPage | None:
    """Return the page that the light map opens with; None before anything is known of it."""
    page = map_page(tank, MapQuery(shown=shown), unit=unit, moment=now)
    return page if isinstance(page, LitPage) else None


def half_width_of(tank: Tank, now: dt.datetime, *, shown: str = "") -> float | None:
    """Return the one figure of how sure the light map is: what its page and its picture say [%].

    `shown` as of the page's address: "" for the light of now, AS_MEASURED for that of its survey.
    """
    page = page_of(tank, now, unit=CM, shown=shown)
    return None if page is None else page.light.field.half_width_percent


def page_address(page: LitPage) -> str:
    """Return where the picture's own depth is shown large."""
    return f"{reverse('light_map', args=[page.tank.pk])}?{page.address}"


def drawn_with(page: LitPage, pins: Sequence[Pin]) -> MapPlanes:
    """Draw the corals on the light, and leave the readings to the map's own page."""
    over = OnCut((), pins, ())
    return draw_planes(page.light.field, page.tank, page.view, over=over, pins=pins, unit=page.unit)


def picture_words(page: LitPage) -> str:
    """Say of which moment the light is, and how sure it is."""
    sure = page.light.field.half_width_percent
    return page.moment.title + ("" if sure is None else f", {sure_to(sure)}")
