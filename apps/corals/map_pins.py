"""The living corals as pins of the light map."""

import datetime as dt

from django.urls import reverse

from apps.corals.models import Coral, Spot
from apps.lightmap.pins import Pin, pins_for
from apps.tanks.models import Tank


def coral_pins(tank: Tank, day: dt.date) -> list[Pin]:
    """Return a Pin for each coral of the tank that lived and had a spot on a day; two queries."""
    corals = Coral.objects.present().living_on(day).filter(tank=tank).prefetch_related("spots")
    placed = ((coral, coral.spot_on(day)) for coral in corals)
    return [pin_of(coral, spot) for coral, spot in placed if spot]


def numbers_on_map(tank: Tank) -> dict[str, int]:
    """Return the number that each living, placed coral bears on the light map, by its page."""
    return {pin.url: number for number, pin in enumerate(pins_for(tank), start=1)}


def pin_of(coral: Coral, spot: Spot) -> Pin:
    band = coral.band()
    return Pin(
        name=coral.name,
        x_cm=spot.x_cm,
        y_cm=spot.y_cm,
        depth_cm=spot.depth_cm,
        words=coral.get_group_display(),
        url=reverse("coral_detail", args=[coral.pk]),
        band_low_umol=band.low_umol,
        band_high_umol=band.high_umol,
    )
