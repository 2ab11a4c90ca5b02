"""Plan and front view of the light change form."""

import json
import re

import pytest
from django.urls import reverse

from apps.lighting.rig_drawing import lit_sizes, rig_drawing
from tests.factories import hang, make_fixture, make_light_change
from tests.lighting.test_light_log import new_url


@pytest.fixture
def hung(tank):
    bar = make_fixture(tank.owner, name="Bar", lit_length_cm=40, lit_width_cm=4)
    return hang(make_light_change(tank), bar, x_cm=30, y_cm=20, height_cm=25, turn_deg=90)


def test_both_views_tell_one_place(tank, hung):
    (bar,) = rig_drawing(tank, [hung], unit="cm").hanging
    # Turned by a quarter the bar lies front to back: four wide from the front.
    assert (bar.left, bar.width, bar.top) == (28, 4, -25)
    # The plan counts downward from the back pane of this tank, 60 cm deep.
    assert (bar.x, bar.y) == (30, 40)
    assert bar.corners == "32.0,60.0 32.0,20.0 28.0,20.0 28.0,60.0"


def test_front_view_has_room_above_the_highest(tank, hung):
    hung.height_cm = 120
    assert rig_drawing(tank, [hung], unit="cm").air_cm > 120


def test_what_hangs_keeps_the_size_it_was_hung_with(tank, hung):
    fixture = hung.fixture
    fixture.lit_length_cm = 80
    sizes = lit_sizes([fixture], [hung])
    assert sizes[str(fixture.pk)] == [80, 4] and sizes[f"{fixture.pk}#1"] == [40, 4]


def test_form_shows_the_views_and_the_sizes(as_user, owner, tank, hung):
    page = as_user(owner).get(new_url(tank)).content.decode()
    assert 'data-rig-view="above"' in page and "<title>Bar 1</title>" in page
    told = json.loads(re.search(r'<script id="lit-sizes"[^>]*>(.*?)</script>', page)[1])
    assert told[f"{hung.fixture_id}#1"] == [40, 4]


def test_viewer_gets_no_form(as_user, viewer, tank, hung):
    assert as_user(viewer).get(new_url(tank)).status_code == 403


def test_stranger_gets_nothing(as_user, stranger, tank, hung):
    url = reverse("light_change_edit", args=[hung.change_id])
    assert as_user(stranger).get(url).status_code == 404
