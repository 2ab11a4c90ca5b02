"""Tanks that are no boxes: told in a form and in the API, checked, drawn and kept."""

import math

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.urls import reverse
from rest_framework.test import APIClient

from apps.photics.ground.scene import Brace, Window
from apps.surveys.plan import patterns
from apps.tanks.models import Rock, Tank
from apps.tanks.plan import tank_plan
from tests.factories import make_coral, make_rock, make_survey, make_tank, make_user
from tests.tanks.test_tanks import GOOD, change, url

pytestmark = pytest.mark.django_db

CORNER = [[0, 60], [0, 0], [25, 0], [60, 35], [60, 60]]
CORNER_LINES = "0 60\n0 0\n25, 0\n60; 35\n\n60 60"
BRACE = {"x_cm": 0, "y_cm": 0, "length_cm": 60, "width_cm": 5, "transmission": 0.8}


def test_a_box_needs_nothing_more(as_user, owner):
    as_user(owner).post(reverse("tank_new"), GOOD)
    tank = Tank.objects.get(owner=owner)
    assert (tank.shape, tank.cover_transmission, tank.window_side) == ("box", 1, "")
    assert tank.scene().is_box


def test_the_fields_fold_up_while_it_is_a_box(as_user, owner):
    box, bow = make_tank(owner), make_tank(owner, shape="bow", bow_cm=10)
    client = as_user(owner)
    pages = [client.get(url("tank_edit", tank)).content.decode() for tank in (box, bow)]
    assert '<details class="shape-fields">' in pages[0]
    assert '<details class="shape-fields" open>' in pages[1]


def test_all_is_told_in_the_form_and_shown_again(as_user, owner):
    tank = make_tank(owner)
    stated = {
        "shape": "outline", "outline_cm": CORNER_LINES, "braces": "0 0 60 5 80%",
        "cover_transmission": "85", "window_side": "left", "window_par_umol": "25,5",
    }  # fmt: skip
    assert change(as_user(owner), tank, **stated).status_code == 302
    tank.refresh_from_db()
    assert tank.outline_cm == CORNER and tank.braces == [BRACE]
    scene = tank.scene()
    assert scene.braces == (Brace(0, 0, 60, 5, 0.8),)
    assert scene.window == Window("left", 25.5) and scene.cover_transmission == 0.85
    page = as_user(owner).get(url("tank_edit", tank)).content.decode()
    assert "0 60\n0 0\n25 0\n60 35\n60 60" in page and "0 0 60 5 80%" in page
    assert change(as_user(owner), tank, **stated).status_code == 302


def test_corners_are_typed_and_shown_in_the_keepers_unit(as_user):
    keeper = make_user(units="in")
    tank = make_tank(keeper, length_cm=60.96, width_cm=60.96)
    stated = {"length_cm": "24", "width_cm": "24", "shape": "outline"}
    lines = "0 24\n0 0\n11-3/4 0\n24 12.5\n24 24"
    assert change(as_user(keeper), tank, outline_cm=lines, **stated).status_code == 302
    tank.refresh_from_db()
    assert tank.outline_cm[2] == [pytest.approx(29.845, abs=0.01), 0]
    assert "11-3/4 0" in as_user(keeper).get(url("tank_edit", tank)).content.decode()


@pytest.mark.parametrize(
    ("told", "field", "words"),
    [
        ({"shape": "cylinder", "width_cm": "50"}, "width_cm", "as wide as it is long"),
        ({"shape": "bow"}, "bow_cm", "needs how far it bulges"),
        ({"shape": "bow", "bow_cm": "35"}, "bow_cm", "at most 30 cm"),
        ({"shape": "outline"}, "outline_cm", "3 to 40 corners"),
        ({"shape": "outline", "outline_cm": "0 0\n60 60\n60 0\n0 60"}, "outline_cm", "crosses"),
        (
            {"shape": "outline", "outline_cm": "0 0\n60 0\n60 60\n30 20\n0 60"},
            "outline_cm",
            "bends inward",
        ),
        ({"shape": "outline", "outline_cm": "0 0\n60"}, "outline_cm", "Line 2: 2 lengths"),
        ({"shape": "outline", "outline_cm": "0 0\nsix 4"}, "outline_cm", "Line 2"),
        ({"shape": "ball"}, "shape", "ball"),
        ({"braces": "0 0 60 5"}, "braces", "Line 1: 4 lengths and a percentage"),
        ({"braces": "0 0 60 5 180%"}, "braces", "passes 0 to 100 %"),
        ({"braces": "30 0 60 5 80%"}, "braces", "ends at 90 cm"),
        ({"cover_transmission": "2"}, "cover_transmission", "5"),
        ({"window_side": "left"}, "window_par_umol", "how much light"),
        (
            {"window_side": "back", "window_par_umol": "9", "back_pane": "dark"},
            "window_side",
            "dark back",
        ),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(as_user, owner, told, field, words):
    tank = make_tank(owner)
    answer = change(as_user(owner), tank, **told)
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert list(errors) == [field] and words in errors[field][0]
    assert '<details class="shape-fields" open>' in answer.content.decode() or field == "width_cm"
    tank.refresh_from_db()
    assert tank.shape == "box" and tank.braces == []


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"shape": "outline", "outline_cm": "round"}, "outline_cm"),
        ({"shape": "outline", "outline_cm": [[0, 0], [True, 60], [60, 60]]}, "outline_cm"),
        ({"shape": "outline", "outline_cm": [[0, 0]] * 50}, "outline_cm"),
        ({"braces": [5]}, "braces"),
        ({"braces": [BRACE | {"colour": 3}]}, "braces"),
        ({"braces": [BRACE | {"x_cm": -1}]}, "braces"),
        ({"braces": [BRACE] * 13}, "braces"),
        ({"braces": {"x_cm": 4}}, "braces"),
        ({"cover_transmission": 1.2}, "cover_transmission"),
        ({"window_side": "top"}, "window_side"),
    ],
)
def test_the_model_refuses_what_no_form_sends(told, field):
    tank = make_tank()
    for name, value in told.items():
        setattr(tank, name, value)
    with pytest.raises(ValidationError) as refused:
        tank.full_clean()
    assert field in refused.value.message_dict


def test_the_api_takes_and_tells_a_shape(owner):
    tank, client = make_tank(owner), APIClient()
    client.force_authenticate(owner)
    at = f"/api/v1/tanks/{tank.pk}/"
    stated = {"shape": "outline", "outline_cm": CORNER, "braces": [BRACE]}
    answer = client.patch(at, stated, format="json")
    assert answer.status_code == 200, answer.content
    assert client.get(at).json()["outline_cm"] == CORNER
    bad = client.patch(at, {"outline_cm": CORNER[:2]}, format="json")
    assert bad.status_code == 400 and "outline_cm" in bad.json()["errors"]


def test_the_database_keeps_the_bounds():
    tank = make_tank()
    with pytest.raises(IntegrityError):
        Tank.objects.filter(pk=tank.pk).update(cover_transmission=0)


@pytest.mark.parametrize(
    ("told", "litres"),
    [
        ({}, 180.0),
        ({"shape": "cylinder"}, math.pi * 0.9 * 50),
        ({"shape": "outline", "outline_cm": CORNER}, (3600 - 35 * 35 / 2) * 50 / 1000),
    ],
)
def test_a_tank_holds_its_true_area(as_user, owner, told, litres):
    tank = make_tank(owner, **told)
    assert tank.litres == pytest.approx(litres)
    assert f"{litres:.0f} litres" in as_user(owner).get(url("tank_settings", tank)).content.decode()


def test_what_lies_outside_is_refused_with_where_the_water_is():
    tank = make_tank(shape="cylinder")
    assert tank.point_errors(x_cm=30, y_cm=30, depth_cm=10) == {}
    assert tank.point_errors(x_cm=60, y_cm=30, depth_cm=10) == {}
    errors = tank.point_errors(x_cm=9, y_cm=2, depth_cm=10)
    assert list(errors) == ["y_cm"] and "8.6 to 51.4 cm" in errors["y_cm"]
    assert list(tank.point_errors(x_cm=99, y_cm=2, depth_cm=10)) == ["x_cm"]


def test_a_reading_outside_is_refused():
    survey = make_survey(make_tank(shape="cylinder"), readings=[(30, 30, 10, 100)])
    reading = survey.readings.get()
    reading.x_cm, reading.y_cm = 9, 2
    with pytest.raises(ValidationError) as refused:
        reading.full_clean()
    assert "Outside the water" in refused.value.message_dict["y_cm"][0]


def test_points_to_read_lie_in_the_water():
    tank = make_tank(shape="bow", bow_cm=20)
    grid = patterns.grid_places(tank, nx=8, ny=8, depths_cm=[10])
    free, dry = patterns.clear_of_rock(grid, tank, ())
    assert dry > 0
    assert not any(tank.scene().outside(p.x_cm, p.y_cm) for p in free)
    row = patterns.front_places(tank, count=5, depths_cm=[10], gap_cm=4)
    near = [tank.scene().rim.chord_cm(x_cm=place.x_cm)[0] for place in row]
    assert [place.y_cm for place in row] == pytest.approx([y + 4 for y in near])


def test_a_shape_that_cuts_off_what_is_there_is_refused():
    tank = make_tank()
    make_survey(tank, readings=[(5, 5, 10, 80), (30, 30, 10, 100)])
    make_coral(tank, at_cm=(57, 57, 20))
    make_rock(tank, x_cm=0, y_cm=0, length_cm=8, width_cm=8)
    tank.shape = "cylinder"
    with pytest.raises(ValidationError) as refused:
        tank.full_clean()
    words = refused.value.message_dict["shape"][0]
    assert "1 reading, 1 coral spot and 1 rock" in words


def test_a_new_name_is_never_refused_for_what_lies_outside():
    tank = make_tank(shape="cylinder")
    make_survey(tank, readings=[(5, 5, 10, 80), (30, 30, 10, 100)])
    tank.name = "Column"
    tank.full_clean()


def test_a_rock_may_fill_a_round_tank_but_not_stand_beside_it():
    tank = make_tank(shape="cylinder")
    sizes = {"depth_cm": 30, "length_cm": 40, "width_cm": 40, "height_cm": 20}
    Rock(tank=tank, x_cm=8, y_cm=8, **sizes).full_clean()
    with pytest.raises(ValidationError, match="outside the tank"):
        Rock(tank=tank, x_cm=0, y_cm=0, **sizes | {"length_cm": 10, "width_cm": 10}).full_clean()


def test_an_overflow_is_a_box_that_shades(as_user, owner):
    tank = make_tank(owner)
    stated = {
        "name": "", "kind": "overflow", "x_cm": "45", "y_cm": "45", "depth_cm": "0",
        "length_cm": "15", "width_cm": "15", "height_cm": "50",
    }  # fmt: skip
    as_user(owner).post(url("rock_new", tank), stated)
    rock = tank.rocks.get()
    assert (rock.kind, len(tank.scene_rocks())) == ("overflow", 1)
    assert "overflow box" in as_user(owner).get(url("tank_settings", tank)).content.decode()


def test_the_plan_draws_the_outline_and_braces():
    plan = tank_plan(make_tank(shape="outline", outline_cm=CORNER, braces=[BRACE]), [])
    assert len(plan.outline.split()) == 5 and len(plan.braces) == 1


def test_a_dark_back_is_drawn_along_the_panes_that_face_it():
    dark = tank_plan(make_tank(shape="cylinder", back_pane="dark"), [])
    # A third of a circle of panes; none where the back is clear, and a box draws a bar.
    assert dark.dark_path.count("M") == pytest.approx(len(dark.outline.split()) / 3, abs=1)
    assert tank_plan(make_tank(shape="cylinder"), []).dark_path == ""
    assert tank_plan(make_tank(back_pane="dark"), []).dark_path == ""


def test_others_see_a_shape_but_only_keepers_change_it(as_user, owner, viewer, stranger):
    tank = make_tank(owner, shape="cylinder")
    tank.memberships.create(user=viewer, role="viewer")
    page = url("tank_settings", tank)
    assert "a cylinder" in as_user(viewer).get(page).content.decode()
    assert as_user(stranger).get(page).status_code == 404
    assert change(as_user(viewer), tank, shape="box").status_code == 403
    assert change(as_user(stranger), tank, shape="box").status_code == 404
