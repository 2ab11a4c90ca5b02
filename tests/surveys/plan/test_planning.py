"""Planned points: patterns, what is stored, the pages, who may."""

import re
from itertools import pairwise

import pytest
from django.urls import reverse

from apps.common.units import parse_length_cm
from apps.surveys.models import PlannedPoint, Reading
from apps.surveys.plan import patterns
from apps.surveys.plan.forms import PlanForm
from apps.surveys.plan.points import TooManyPoints, add_points
from apps.surveys.plan.proposal import ORDERS, proposal_of
from apps.surveys.plan.views import BLANK_LINES
from tests.factories import make_coral, make_rock, make_survey

GRID = {"pattern": "grid", "nx": "3", "ny": "2", "depths": "5; 20", "how": "replace"}


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


def post(client, survey, **changes):
    return client.post(reverse("survey_plan", args=[survey.pk]), GRID | changes)


def places(survey):
    return [(p.x_cm, p.y_cm, p.depth_cm) for p in survey.planned_points.all()]


def test_grid_stands_in_the_middle_of_each_share(tank):
    laid = patterns.grid_places(tank, nx=3, ny=2, depths_cm=[10])
    assert [(p.x_cm, p.y_cm) for p in laid] == [
        (10, 15), (30, 15), (50, 15), (50, 45), (30, 45), (10, 45)
    ]  # fmt: skip


def test_each_point_of_a_grid_lies_beside_the_one_before(tank):
    laid = patterns.grid_places(tank, nx=4, ny=3, depths_cm=[10, 20])
    for one, other in pairwise(laid):
        steps = (other.x_cm - one.x_cm, other.y_cm - one.y_cm, other.depth_cm - one.depth_cm)
        assert sum(step != 0 for step in steps) == 1
    assert len({(p.x_cm, p.y_cm, p.depth_cm) for p in laid}) == 24


@pytest.mark.parametrize(
    ("depth_cm", "unit", "expected"),
    [
        (42, "cm", [5, 20, 35]),
        (50, "cm", [10, 25, 40]),
        # 3, 10 and 16 inches.
        (50, "in", [7.62, 25.4, 40.64]),
        # Too shallow for steps of 5 cm.
        (9, "cm", [1.5, 4.5, 7.5]),
    ],
)
def test_depths_are_round_where_the_water_is_deep_enough(tank, depth_cm, unit, expected):
    tank.depth_cm = depth_cm
    assert patterns.round_depths(tank, 3, unit) == pytest.approx(expected)


def test_front_row_keeps_its_distance(tank):
    laid = patterns.front_places(tank, count=4, depths_cm=[10, 20], gap_cm=6)
    assert len(laid) == 8 and {p.y_cm for p in laid} == {6}


def test_front_row_goes_back_and_forth(tank):
    xs = [p.x_cm for p in patterns.front_places(tank, count=3, depths_cm=[10, 20], gap_cm=6)]
    assert xs == [*xs[:3], *xs[2::-1]] and xs[0] < xs[1]


@pytest.mark.parametrize(
    ("length_cm", "width_cm", "sides"),
    [(60, 40, (3, 2)), (30, 30, (3, 2)), (40, 60, (2, 3)), (60.1, 40, (4, 3)), (120, 60, (5, 3))],
)
def test_a_small_tank_is_first_planned_for_ten_minutes(tank, length_cm, width_cm, sides):
    tank.length_cm, tank.width_cm = length_cm, width_cm
    initial = PlanForm.usual(tank, "cm").initial
    assert (initial["nx"], initial["ny"]) == sides


def test_a_denser_plan_is_one_tap_away(as_user, owner, survey):
    client, page = as_user(owner), reverse("survey_plan", args=[survey.pk])
    first = client.get(page)
    assert first.context["proposal"].count == 18 and f'href="{page}?dense=1"' in str(first.content)
    dense = client.get(page, {"dense": "1"})
    assert dense.context["proposal"].count == 48 and "?dense=1" not in str(dense.content)
    assert places(survey) == []


@pytest.mark.parametrize(
    ("pattern", "is_beside"), [("grid", True), ("front", True), ("ring", False), ("corals", False)]
)
def test_points_are_said_beside_the_last_only_where_they_are(tank, pattern, is_beside):
    make_rock(tank)
    form = PlanForm.usual(tank, "cm")
    form = PlanForm(form.initial | {"pattern": pattern}, tank=tank, unit="cm")
    assert form.is_valid()
    assert ("beside the last" in proposal_of(form, tank, "cm").order) is is_beside


def test_every_pattern_says_its_order():
    assert ORDERS.keys() == PlanForm.NEEDS.keys()
    assert "beside" not in ORDERS[PlanForm.SUGGESTED]


def test_ring_lies_round_the_rock_and_in_the_water(tank):
    rock = make_rock(tank, x_cm=0, y_cm=20, length_cm=20, width_cm=20)
    laid = patterns.ring_places(tank, [rock], count=16, depths_cm=[35], gap_cm=5)
    assert len(laid) == 16
    for p in laid:
        # Half a cm clear of the rock, save where the glass leaves no room.
        outside = p.x_cm >= 25 or p.y_cm <= 15 or p.y_cm >= 45 or p.x_cm == patterns.CLEAR_CM
        assert outside and 0 < p.x_cm < 60 and 0 < p.y_cm < 60


def test_no_rock_no_ring(tank):
    assert patterns.ring_places(tank, [], count=8, depths_cm=[10]) == []


def test_points_in_rock_are_left_out_and_told(as_user, owner, tank, survey):
    make_rock(tank, x_cm=25, y_cm=10, depth_cm=15, length_cm=10, width_cm=10, height_cm=30)
    page = as_user(owner).post(reverse("survey_plan", args=[survey.pk]), GRID, follow=True)
    assert (30, 15, 20) not in places(survey) and (30, 15, 5) in places(survey)
    (message,) = page.context["messages"]
    assert re.findall(r"\d+", str(message)) == [str(len(places(survey))), "1"]
    assert "rock" in str(message)


def test_grid_is_stored_and_numbered(as_user, owner, survey):
    post(as_user(owner), survey)
    assert [p.number for p in survey.planned_points.all()] == list(range(1, 13))
    assert places(survey)[0] == (10, 15, 5)


@pytest.mark.parametrize(
    ("then", "name"),
    [("pad", "survey_enter"), ("table", "survey_readings"), ("sheet", "survey_sheet"),
     ("elsewhere", "survey_plan")],
)  # fmt: skip
def test_planning_leads_where_the_keeper_reads(as_user, owner, survey, then, name):
    response = post(as_user(owner), survey, then=then)
    assert response["Location"] == reverse(name, args=[survey.pk])


def test_what_would_be_planned_is_drawn_and_not_stored(as_user, owner, survey):
    client, fragment = as_user(owner), {"HX-Request": "true"}
    first = client.get(reverse("survey_plan", args=[survey.pk])).context["proposal"]
    assert first.count == 18 and [line.depth_cm for line in first.depths] == [10, 25, 40]
    looked = client.post(
        reverse("survey_plan", args=[survey.pk]), GRID | {"look": "1"}, headers=fragment
    )
    assert looked.context["proposal"].count == 12 and places(survey) == []
    wrong = client.post(
        reverse("survey_plan", args=[survey.pk]),
        GRID | {"look": "1", "depths": "99"},
        headers=fragment,
    )
    assert wrong.status_code == 422 and wrong.context["proposal"] is None


def test_corals_spots_carry_their_names(as_user, owner, tank, survey):
    make_coral(tank, name="Lavender branch", at_cm=(12.3, 22, 15))
    post(as_user(owner), survey, pattern="corals")
    point = survey.planned_points.get()
    assert (point.words, point.x_cm) == ("Lavender branch", 12.3)


def test_suggested_points_come_from_the_last_map(as_user, owner, tank, survey):
    make_survey(tank)
    post(as_user(owner), survey, pattern="suggested", count="3")
    laid = places(survey)
    assert len(laid) == 3
    assert all(0 <= x <= 60 and 0 <= y <= 60 and 0 <= d <= 50 for x, y, d in laid)


@pytest.mark.parametrize(
    ("pattern", "problem"),
    [("corals", "No coral has a spot"), ("suggested", "no light map"), ("ring", "no rock")],
)
def test_a_pattern_that_gives_nothing_says_why(as_user, owner, survey, pattern, problem):
    response = post(as_user(owner), survey, pattern=pattern, count="4", gap="5")
    assert response.status_code == 422 and problem in response.content.decode()


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"depths": "5; 99"}, "from 0 to 50"),
        ({"depths": "deep"}, "not a number"),
        ({"depths": ""}, "required"),
        ({"nx": "31"}, "At most 30"),
        ({"nx": "-1"}, "At least 1"),
        ({"pattern": "spiral"}, "not one of the available"),
    ],
)
def test_what_cannot_be_planned_is_told_and_kept(as_user, owner, survey, change, problem):
    response = post(as_user(owner), survey, **change)
    assert response.status_code == 422 and problem in response.content.decode()
    assert places(survey) == []


def test_replacing_keeps_points_that_were_read(as_user, owner, survey):
    client = as_user(owner)
    post(client, survey)
    read = survey.planned_points.get(number=3)
    Reading.objects.create(
        survey=survey, position=1, client_id=read.client_id, x_cm=1, y_cm=1, depth_cm=1,
        value_umol=5,
    )  # fmt: skip
    post(client, survey, nx="1", ny="1", depths="30")
    assert [p.number for p in survey.planned_points.all()] == [3, 4]


def test_adding_leaves_out_what_is_planned_already(as_user, owner, survey):
    client = as_user(owner)
    for _ in range(2):
        post(client, survey, how="add")
    assert len(places(survey)) == 12


def test_more_points_than_a_survey_holds_are_refused(survey):
    many = [patterns.Place(x / 20, 1, 1) for x in range(1001)]
    with pytest.raises(TooManyPoints):
        add_points(survey=survey, places=many)
    assert places(survey) == []


def test_depths_are_in_the_keepers_unit(as_user, owner, survey):
    owner.units = "in"
    owner.save()
    post(as_user(owner), survey, nx="1", ny="1", depths="2; 4")
    assert [depth for _, _, depth in places(survey)] == [5.08, 10.16]


def test_unit_behind_a_depth_wins(as_user, owner, survey):
    post(as_user(owner), survey, nx="1", ny="1", depths="10 cm, 200 mm; 30")
    assert [depth for _, _, depth in places(survey)] == [10, 20, 30]


def initial_of(client, survey):
    return client.get(reverse("survey_plan", args=[survey.pk])).context["form"].initial


def test_the_form_starts_by_the_rule_and_replaces_nothing_once_points_stand(as_user, owner, survey):
    client = as_user(owner)
    assert initial_of(client, survey)["how"] == "replace"
    post(client, survey)
    assert initial_of(client, survey)["how"] == "add"


def test_the_form_keeps_what_was_asked_for_every_keeper(as_user, owner, co_keeper, survey):
    post(as_user(owner), survey, pattern="ring", count="5", gap="7", depths="5; 20")
    post(as_user(owner), survey)
    co_keeper.units = "in"
    co_keeper.save()
    initial = initial_of(as_user(co_keeper), survey)
    assert (initial["pattern"], initial["nx"], initial["ny"]) == ("grid", 3, 2)
    depths_cm = [parse_length_cm(depth, "in") for depth in initial["depths"].split("; ")]
    # To the nearest thirty-second of an inch.
    assert depths_cm == pytest.approx([5, 20], abs=2.54 / 64 + 0.005)


def test_the_form_sent_again_as_it_stands_plans_nothing_twice(as_user, owner, survey):
    client = as_user(owner)
    post(client, survey)
    again = initial_of(client, survey)
    client.post(reverse("survey_plan", args=[survey.pk]), again)
    assert survey.planned_points.count() == 12


def test_a_refused_form_is_not_what_was_asked(as_user, owner, survey):
    client = as_user(owner)
    post(client, survey)
    post(client, survey, nx="0")
    assert initial_of(client, survey)["nx"] == 3


def test_the_page_says_what_the_rule_advises(as_user, owner, survey):
    context = as_user(owner).get(reverse("survey_plan", args=[survey.pk])).context
    # 0.2 * 5^log10(0.6) m is 14.0 cm, and 60 over that 4.3.
    assert (context["rule_nx"], context["rule_ny"], context["rule"].count) == (4, 4, 16)
    assert context["rule"].spacing_cm == pytest.approx(14.0, abs=0.05)


def test_sheet_and_page_number_alike(as_user, viewer, owner, survey):
    post(as_user(owner), survey, nx="2", ny="1", depths="10")
    page = as_user(viewer).get(reverse("survey_sheet", args=[survey.pk])).content.decode()
    assert page.count('class="point-number"') == 4
    assert '<td class="number">2</td><td class="number">45</td>' in page


def test_a_sheet_without_points_has_blank_lines_and_the_tank_to_mark(as_user, viewer, survey):
    page = as_user(viewer).get(reverse("survey_sheet", args=[survey.pk])).content.decode()
    assert page.count("<tr>") == 1 + BLANK_LINES
    assert page.count('class="point-number"') == 0 and 'class="point-figures"' in page


def test_a_sheet_of_planned_points_has_no_blank_lines(as_user, owner, survey):
    post(as_user(owner), survey, nx="2", ny="1", depths="10")
    page = as_user(owner).get(reverse("survey_sheet", args=[survey.pk])).content.decode()
    assert page.count("<tr>") == 1 + 2


def test_a_point_is_taken_out(as_user, co_keeper, survey):
    client = as_user(co_keeper)
    post(client, survey)
    client.post(reverse("planned_point_remove", args=[survey.pk, 5]))
    assert survey.planned_points.count() == 11
    assert not PlannedPoint.objects.filter(survey=survey, number=5).exists()


def test_the_entry_page_offers_the_points(as_user, owner, survey):
    client = as_user(owner)
    post(client, survey)
    page = client.get(reverse("survey_enter", args=[survey.pk])).content.decode()
    assert all(str(p.client_id) in page for p in survey.planned_points.all())


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_do_not_plan(request, as_user, survey, who, status):
    client = as_user(request.getfixturevalue(who))
    assert post(client, survey).status_code == status
    remove = reverse("planned_point_remove", args=[survey.pk, 1])
    assert client.post(remove).status_code == status
    if who == "stranger":
        assert client.get(reverse("survey_sheet", args=[survey.pk])).status_code == 404
    assert places(survey) == []


def test_depths_in_fractions_of_an_inch_are_one_each(as_user, owner, survey):
    owner.units = "in"
    owner.save()
    post(as_user(owner), survey, nx="1", ny="1", depths="3 1/2; 9½, 11 1/2 in 12-1/2")
    depths = [point.depth_cm for point in survey.planned_points.order_by("number")]
    assert depths == [8.89, 24.13, 29.21, 31.75]
