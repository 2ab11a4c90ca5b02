"""Fixtures and day curves over the API: the rules of the pages, in the same sentences."""

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from apps.lighting.day_running import start_day_curve
from apps.lighting.models import DayCurve, Fixture
from tests.factories import hang, make_day_curve, make_fixture, make_light_change

FIXTURE = {"name": "Bar", "kind": "bar", "lit_length_cm": 80, "lit_width_cm": 4}


def api(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


def days(tank):
    return f"/api/v1/tanks/{tank.pk}/day-curves/"


def test_fixture_is_written_to_ones_own_library(owner):
    channels = [{"name": "Blue", "peak_nm": 450, "share_percent": 100}]
    body = FIXTURE | {"optic": "narrow", "channels": channels}
    response = api(owner).post("/api/v1/fixtures/", body, format="json")
    assert response.status_code == 201 and response.data["beam_deg"] == 55
    assert Fixture.objects.get().owner == owner


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"channels": [{"name": "Blue", "peak_nm": 450, "share_percent": 40}]}, "channels"),
        ({"channels": "blue"}, "channels"),
        ({"channels": [{"name": "Blue", "peak_nm": "x", "share_percent": 100}]}, "channels"),
        ({"channels": [{"name": "B", "peak_nm": 450, "share_percent": "100"}]}, "channels"),
        ({"channels": [450]}, "channels"),
        ({"optic": "file"}, "optic"),
        ({"efficacy_umol_j": 50}, "efficacy_umol_j"),
    ],
)
def test_wrong_fixture_is_refused_at_its_field(owner, wrong, field):
    response = api(owner).post("/api/v1/fixtures/", FIXTURE | wrong, format="json")
    assert response.status_code == 400 and field in response.data


@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_library_is_its_owners_alone(request, owner, who):
    fixture = make_fixture(owner)
    client = api(request.getfixturevalue(who))
    assert client.get(f"/api/v1/fixtures/{fixture.pk}/").status_code == 404
    assert client.get("/api/v1/fixtures/").data["results"] == []


@pytest.mark.parametrize(
    "points",
    [
        [],
        [[480, 100]],
        "x",
        [[0, 50], [1440, 50]],
        [[480, 120], [600, 0]],
        [[480], [600]],
        [1, 2],
        [["480", 1], [600, 1]],
    ],
)
def test_points_that_make_no_day_are_refused(owner, tank, points):
    response = api(owner).post(days(tank), {"name": "Odd", "points": points}, format="json")
    assert response.status_code == 400 and "points" in response.data
    assert not DayCurve.objects.exists()


def test_light_change_carries_the_day_it_started(owner, tank):
    curve = make_day_curve(tank)
    start_day_curve(curve=curve, happened_at=timezone.now(), created_by=owner)
    (change,) = api(owner).get(f"/api/v1/tanks/{tank.pk}/light-changes/").data["results"]
    assert change["days"][0]["points"] == curve.points and change["day_hours"] is None


def test_light_change_tells_the_level_of_each_channel(owner, tank):
    blue = {"name": "Blue", "peak_nm": 450, "share_percent": 60}
    white = {"name": "White", "white_kelvin": 10000, "share_percent": 40}
    fixture = make_fixture(owner, channels=[blue, white])
    hang(make_light_change(tank), fixture, level_percent=50, channel_levels={"Blue": 80})
    (change,) = api(owner).get(f"/api/v1/tanks/{tank.pk}/light-changes/").data["results"]
    (hung,) = change["hung"]
    assert (hung["channel_levels"], hung["channels"]) == ({"Blue": 80}, [blue, white])
    assert hung["light_percent"] == pytest.approx(44)
