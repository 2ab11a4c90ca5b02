"""The living corals as pins of the light map."""

import datetime as dt

from django.urls import reverse
from django.utils import timezone

from apps.common.reading_once import read_once
from apps.corals.models import Coral, Spot
from apps.lighting.clock import day_ends
from apps.lighting.history import light_history
from apps.lightmap.pins import Pin, pins_for
from apps.tanks.models import Tank


def coral_pins(tank: Tank, day: dt.date) -> list[Pin]:
    """Return a Pin for each coral of the tank that lived and had a spot on a day.

    Two queries and those of the light history, which most pages of a tank read anyway; once a page.
    """
    return list(read_once(("coral pins", tank.pk, day), lambda: read_pins(tank, day)))


def read_pins(tank: Tank, day: dt.date) -> list[Pin]:
    """Return `coral_pins` as the database has them now."""
    corals = Coral.objects.present().living_on(day).filter(tank=tank).prefetch_related("spots")
    placed = [(coral, spot) for coral in corals if (spot := coral.spot_on(day))]
    if not placed:
        return []
    end = day_ends(day, tank.zone)[1] - dt.datetime.resolution
    full_hours = light_history(tank).full_hours_at(min(timezone.now(), end))
    return [pin_of(coral, spot, full_hours) for coral, spot in placed]


def numbers_on_map(tank: Tank) -> dict[str, int]:
    """Return the number that each living, placed coral bears on the light map, by its page."""
    return {pin.url: number for number, pin in enumerate(pins_for(tank), start=1)}


def pin_of(coral: Coral, spot: Spot, full_hours: float | None) -> Pin:
    """Return the Pin of a Coral at a Spot, under a day of so many full hours [h]."""
    band = coral.band(full_hours)
    return Pin(
        name=coral.name,
        x_cm=spot.x_cm,
        y_cm=spot.y_cm,
        depth_cm=spot.depth_cm,
        words=coral.get_group_display(),
        url=reverse("coral_detail", args=[coral.pk]),
        band_low_umol=band.low_umol,
        band_high_umol=band.high_umol,
        usual_of=coral.group if coral.band_low_umol is None else "",
    )
