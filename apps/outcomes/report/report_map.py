"""The light map of a report, with the corals on it that the report is about."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse

from apps.corals.models import Coral
from apps.lightmap.page.drawn_page import beside_pins
from apps.lightmap.page.map_page import LitPage, map_page
from apps.lightmap.page.overview import drawn_with, page_address, picture_words
from apps.lightmap.page.planes import MapPlanes
from apps.lightmap.page.query import MapQuery
from apps.lightmap.pins import pins_for
from apps.tanks.models import Tank


@dataclass(frozen=True)
class ReportMap:
    """The light today from above, where it is shown large, and the numbers of corals on it."""

    url: str
    words: str
    mark: str  # what stands behind PAR that nobody measured
    drawn: MapPlanes
    numbers: dict[int, int]  # by coral key


def report_map(
    tank: Tank, now: dt.datetime, unit: str, corals: Sequence[Coral]
) -> ReportMap | None:
    """Return the ReportMap of a tank with some of its corals, numbered in their order.

    None before anything is known of its light. The depth is the one that its map opens at.
    """
    page = map_page(tank, MapQuery(), unit=unit, moment=now)
    if not isinstance(page, LitPage):
        return None
    pins = pins_for(tank)
    page = beside_pins(page, pins)
    by_url = {pin.url: pin for pin in pins}
    placed = [
        (coral, pin)
        for coral in corals
        if (pin := by_url.get(reverse("coral_detail", args=[coral.pk])))
    ]
    return ReportMap(
        url=page_address(page),
        words=picture_words(page),
        mark=page.mark,
        drawn=drawn_with(page, tuple(pin for _, pin in placed)),
        numbers={coral.pk: number for number, (coral, _) in enumerate(placed, start=1)},
    )
