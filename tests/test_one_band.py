"""A group's usual band is the same in every room of a tank."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.models import LightChange
from apps.lightmap.pins import pins_for
from apps.planning.layout.zones.inhabitants import usual_zones, wishes
from tests.factories import make_coral, make_light_change, make_lit_survey

# By hand: mol x 1e6 / (3600 x 10 h) to the nearest 5, as 6.5e6 / 36000 = 180.6.
IN_TEN_HOURS = {"soft": (45, 135), "lps": (65, 135), "sps": (180, 315)}


@pytest.fixture
def long_lit(tank):
    """A surveyed tank whose day became worth ten full hours a week ago."""
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    make_light_change(
        tank, happened_at=timezone.now() - dt.timedelta(days=7), summary="A longer day",
        reason=LightChange.Reason.HOURS, factor=1, day_hours=11, ramp_hours=1,
    )  # fmt: skip
    return tank


@pytest.mark.parametrize("group", sorted(IN_TEN_HOURS))
def test_every_room_of_a_tank_knows_the_same_band(as_user, owner, long_lit, group):
    coral, client = make_coral(long_lit, group=group), as_user(owner)
    forms = client.get(reverse("tank_layout_new", args=[long_lit.pk])).context["forms"]
    wished = wishes([group])
    ((zone, _),) = usual_zones(wished, full_hours=forms.full_hours, box=long_lit.scene())
    status = client.get(reverse("coral_detail", args=[coral.pk])).context["status"]
    presets = client.get(reverse("light_map", args=[long_lit.pk])).context["page"].presets
    placing = reverse("place_coral", args=[long_lit.pk])
    wish = client.get(placing, {"coral": coral.pk}).context["band"]
    listed = dict(client.get(placing).context["bands"])[coral.get_group_display()]
    (pin,) = pins_for(long_lit)
    bands = {
        "zone": (zone.low_umol, zone.high_umol),
        "coral": (status.band.low_umol, status.band.high_umol),
        "preset": next((low, high) for key, _, low, high in presets if key == group),
        "placing": (wish["band_low_umol"], wish["band_high_umol"]),
        "listed": (listed.low_umol, listed.high_umol),
        "pin": (pin.band_low_umol, pin.band_high_umol),
    }
    assert bands == dict.fromkeys(bands, IN_TEN_HOURS[group])


def test_a_band_of_ones_own_stays_as_typed(as_user, owner, long_lit):
    coral = make_coral(long_lit, band_low_umol=200, band_high_umol=400)
    band = as_user(owner).get(reverse("coral_detail", args=[coral.pk])).context["status"].band
    (pin,) = pins_for(long_lit)
    assert (band.low_umol, band.high_umol) == (200, 400)
    assert pin.at_hours(5.0) == pin


def test_the_same_thing_has_another_band_in_the_hours_of_a_plan(long_lit):
    make_coral(long_lit)
    (pin,) = pins_for(long_lit)
    planned = pin.at_hours(9.0)
    assert (planned.band_low_umol, planned.band_high_umol) == (200, 350)
