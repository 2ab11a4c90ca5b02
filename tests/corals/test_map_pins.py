"""Corals on the light map."""

import datetime as dt

from django.urls import reverse

from apps.corals.map_pins import coral_pins
from tests.factories import make_coral, make_survey


def test_living_placed_coral_is_a_pin(tank):
    coral = make_coral(tank, name="Blue crown", at_cm=(10, 20, 30))
    (pin,) = coral_pins(tank, tank.today())
    assert (pin.name, pin.x_cm, pin.y_cm, pin.depth_cm) == ("Blue crown", 10, 20, 30)
    assert pin.url == reverse("coral_detail", args=[coral.pk])


def test_gone_unplaced_and_removed_corals_are_no_pins(tank):
    make_coral(tank, gone_on=tank.today())
    make_coral(tank, at_cm=None)
    make_coral(tank).remove()
    assert coral_pins(tank, tank.today()) == []


def test_pin_sits_where_the_coral_sits_now(tank):
    coral = make_coral(tank, at_cm=(10, 20, 30))
    coral.spots.create(x_cm=40, y_cm=20, depth_cm=10, since=tank.today() - dt.timedelta(days=1))
    assert coral_pins(tank, tank.today())[0].x_cm == 40


def test_map_names_the_coral(as_user, owner, tank):
    make_survey(tank)
    make_coral(tank, name="Blue crown")
    page = as_user(owner).get(reverse("light_map", args=[tank.pk])).content.decode()
    assert "Blue crown" in page
