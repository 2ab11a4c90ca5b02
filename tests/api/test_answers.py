"""Light and cases over REST: the same numbers as the map, for all who may read the tank."""

import datetime as dt

import numpy as np
import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from apps.lightmap.lightmap import tank_light
from tests.factories import hang, make_coral, make_light_change, make_note, make_rock, make_survey

SURVEYED = dt.datetime(2026, 5, 1, 12, tzinfo=dt.UTC)


@pytest.fixture
def client(owner):
    client = APIClient()
    client.force_authenticate(owner)
    return client


@pytest.fixture
def surveyed(tank):
    make_survey(tank, taken_at=SURVEYED)
    return tank


def light(tank, rest=""):
    return f"/api/v1/tanks/{tank.pk}/light/{rest}"


def test_light_at_points_is_the_maps(client, surveyed):
    answer = client.get(light(surveyed), {"point": ["40,25,20", "10,10,40"]})
    assert answer.status_code == 200, answer.data
    expected = tank_light(surveyed).at([(40, 25, 20), (10, 10, 40)], timezone.now())
    assert [p["par_umol"] for p in answer.data["points"]] == [
        pytest.approx(spot.par_umol) for spot in expected
    ]
    first = answer.data["points"][0]
    assert first["low_umol"] < first["par_umol"] < first["high_umol"]
    assert answer.data["rests_on"]["survey"] == surveyed.surveys.get().pk


def test_points_of_a_body_are_lit_alike(client, surveyed):
    body = {"points": [{"x_cm": 40, "y_cm": 25, "depth_cm": 20}]}
    sent = client.post(light(surveyed), body, format="json")
    asked = client.get(light(surveyed), {"point": "40,25,20"})
    assert sent.data["points"] == asked.data["points"]


def test_a_point_in_rock_has_no_light(client, surveyed):
    make_rock(surveyed, x_cm=30, y_cm=20, depth_cm=30, length_cm=20, width_cm=20, height_cm=15)
    answer = client.get(light(surveyed), {"point": "40,30,38"})
    assert answer.data["points"][0]["par_umol"] is None


def test_without_a_survey_nothing_is_known_and_said_so(client, tank):
    answer = client.get(light(tank), {"point": "5,5,5"})
    assert answer.data["rests_on"] is None and answer.data["points"][0]["par_umol"] is None


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ({"point": "1,2"}, "point"),
        ({"point": "a,2,3"}, "points"),
        ({"at": "yesterday"}, "at"),
        ({"depth": "3"}, "depth"),
        ({"point": ["1,1,1"] * 101}, "point"),
    ],
)
def test_a_wrong_question_is_refused_by_its_name(client, surveyed, query, name):
    answer = client.get(light(surveyed), query)
    assert answer.status_code == 400 and name in str(answer.json())


def test_an_earlier_moment_has_the_light_of_then(client, surveyed):
    later = SURVEYED + dt.timedelta(days=10)
    hang(make_light_change(surveyed, happened_at=SURVEYED - dt.timedelta(days=30)))
    make_light_change(surveyed, happened_at=later, factor=0.5)
    par = [
        client.get(light(surveyed), {"point": "40,25,20", "at": at.isoformat()}).data["points"][0]
        for at in (later - dt.timedelta(days=1), later + dt.timedelta(days=1))
    ]
    assert par[1]["par_umol"] == pytest.approx(par[0]["par_umol"] / 2, rel=0.01)


@pytest.mark.parametrize(
    ("cut", "across", "down"),
    [("depth_cm", "x_cm", "y_cm"), ("y_cm", "x_cm", "depth_cm"), ("x_cm", "y_cm", "depth_cm")],
)
def test_a_plane_holds_the_light_of_its_nodes(client, surveyed, cut, across, down):
    plane = client.get(light(surveyed, "plane/"), {cut: 20, "step_cm": 10}).data
    assert (plane["cut"], plane["across"], plane["down"]) == (cut, across, down)
    row, column = 1, 2
    at = {cut: 20, across: plane["columns_cm"][column], down: plane["rows_cm"][row]}
    point = ",".join(str(at[axis]) for axis in ("x_cm", "y_cm", "depth_cm"))
    spot = client.get(light(surveyed), {"point": point}).data["points"][0]
    assert plane["par_umol"][row][column] == pytest.approx(spot["par_umol"], rel=1e-6)
    assert np.shape(plane["high_umol"]) == (len(plane["rows_cm"]), len(plane["columns_cm"]))


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ({"depth_cm": 5, "y_cm": 5}, "one of"),
        ({"depth_cm": 900}, "depth_cm"),
        ({"step_cm": 0.5}, "step_cm"),
        ({"step_cm": 0.1}, "step_cm"),
        ({"step": 2}, "step"),
    ],
)
def test_a_plane_that_can_not_be_cut_is_refused(client, surveyed, query, name):
    answer = client.get(light(surveyed, "plane/"), query)
    assert answer.status_code == 400 and name in str(answer.json())


def test_a_corals_light_goes_in_steps_where_it_moved(client, surveyed):
    coral = make_coral(surveyed, since=dt.date(2026, 5, 2))
    coral.spots.create(x_cm=10, y_cm=10, depth_cm=10, since=dt.date(2026, 6, 1))
    address = f"/api/v1/tanks/{surveyed.pk}/corals/{coral.pk}/light/"
    answer = client.get(address, {"since": "2026-05-02", "until": "2026-06-30"})
    assert answer.status_code == 200, answer.data
    spots = [step["spot"] for step in answer.data["steps"]]
    assert spots[0] != spots[-1] and answer.data["band_low_umol"] == 200
    assert all(step["par_umol"] > 0 for step in answer.data["steps"])


def test_a_stretch_that_ends_before_it_begins_is_refused(client, surveyed):
    coral = make_coral(surveyed)
    address = f"/api/v1/tanks/{surveyed.pk}/corals/{coral.pk}/light/"
    answer = client.get(address, {"since": "2026-06-30", "until": "2026-06-01"})
    assert answer.status_code == 400


def test_a_case_names_what_was_seen_and_the_next_step(client, surveyed):
    coral = make_coral(surveyed)
    day = surveyed.today() - dt.timedelta(days=1)
    make_note(coral, noted_on=day, seen="paling", condition=2)
    address = f"/api/v1/tanks/{surveyed.pk}/corals/{coral.pk}/case/"
    case = client.get(address).data["case"]
    assert (case["coral"], case["sign"], case["notes"]) == (coral.pk, "lighter", 1)
    assert case["next_step"]["key"] and case["light_now"]["par_umol"] > 0
    listed = client.get(f"/api/v1/tanks/{surveyed.pk}/cases/").data
    assert listed["count"] == 1 and listed["cases"][0]["finding"] == case["finding"]


def test_a_coral_that_is_well_has_no_case(client, surveyed):
    coral = make_coral(surveyed)
    address = f"/api/v1/tanks/{surveyed.pk}/corals/{coral.pk}/case/"
    assert client.get(address).data == {"case": None}


def test_a_coral_of_another_tank_is_not_here(client, surveyed, stranger):
    from tests.factories import make_tank

    coral = make_coral(make_tank(stranger))
    for what in ("light", "case"):
        address = f"/api/v1/tanks/{surveyed.pk}/corals/{coral.pk}/{what}/"
        assert client.get(address).status_code == 404
