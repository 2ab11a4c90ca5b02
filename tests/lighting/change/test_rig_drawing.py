"""Plan, front and side view of the light change form."""

import json
import re

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.lighting.change.rig_drawing import lit_sizes, rig_drawing
from tests.factories import hang, make_fixture, make_light_change
from tests.lighting.change.test_light_log import new_url


@pytest.fixture
def hung(tank):
    bar = make_fixture(tank.owner, name="Bar", lit_length_cm=40, lit_width_cm=4)
    return hang(make_light_change(tank), bar, x_cm=30, y_cm=20, height_cm=25, turn_deg=90)


def extent(hanging, axis=0):
    """Least and greatest of an outline's x, or of its y."""
    stated = [float(corner.split(",")[axis]) for corner in hanging.outline.split()]
    return min(stated), max(stated)


def test_all_views_tell_one_place(tank, hung):
    drawing = rig_drawing(tank, [hung], unit="cm")
    above, front, side = (view.hanging[0] for view in drawing.views)
    # The plan counts downward from the back pane of this tank, 60 cm deep.
    assert (above.x, above.y) == (30, 40)
    assert above.outline == "32.0,60.0 32.0,20.0 28.0,20.0 28.0,60.0"
    # Turned by a quarter the bar lies front to back: four wide from the front, forty from the side.
    assert extent(front) == (28, 32) and extent(side) == (20, 60)
    assert (front.y, side.x, side.y) == (-25, 40, -25)
    assert not drawing.is_tilted and above.axis == ""


def test_a_tilted_fixture_shows_where_it_shines(tank, hung):
    hung.turn_deg, hung.tilt_deg = 0, 45
    drawing = rig_drawing(tank, [hung], unit="cm")
    above, front, side = (view.hanging[0] for view in drawing.views)
    # 25 cm up and by half a right angle: 25 cm further back, from y = 20 to 45.
    assert above.axis == "M30.0 40.0L30.0 15.0"
    assert front.axis == "M30.0 -25.0L30.0 0.0"
    assert side.axis == "M40.0 -25.0L15.0 0.0"
    # Four wide, seen from above by its cosine.
    assert drawing.is_tilted and extent(above, 1) == pytest.approx((38.6, 41.4))


def test_lowest_edge_of_a_tilted_fixture_stays_out_of_the_water(tank, hung):
    hung.lit_width_cm, hung.tilt_deg, hung.height_cm = 20, 30, 4
    with pytest.raises(ValidationError) as refused:
        hung.full_clean()
    assert "in the water" in refused.value.message_dict["height_cm"][0]
    hung.height_cm = 5.1
    hung.full_clean()


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
    stated = json.loads(re.search(r'<script id="lit-sizes"[^>]*>(.*?)</script>', page)[1])
    assert stated[f"{hung.fixture_id}#1"] == [40, 4]


def test_viewer_gets_no_form(as_user, viewer, tank, hung):
    assert as_user(viewer).get(new_url(tank)).status_code == 403


def test_stranger_gets_nothing(as_user, stranger, tank, hung):
    url = reverse("light_change_edit", args=[hung.change_id])
    assert as_user(stranger).get(url).status_code == 404
