"""Bad rows get the forms' own sentences; nothing odd gets past them."""

import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from tests.factories import make_coral, make_rock, make_survey, make_tank


@pytest.fixture
def client(owner):
    client = APIClient()
    client.force_authenticate(owner)
    return client


@pytest.fixture
def connection_counts():
    def count(call):
        with CaptureQueriesContext(connection) as queries:
            call()
        # The throttle's counting goes on in its own table and varies as rows grow old.
        return sum("shared_cache" not in q["sql"] for q in queries)

    return count


TANK = {"name": "Cube", "length_cm": 40, "width_cm": 40, "depth_cm": 35}
ROCK = {"x_cm": 5, "y_cm": 5, "depth_cm": 30, "length_cm": 10, "width_cm": 10, "height_cm": 10}


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e999", True, None, "x", [], {}])
def test_a_length_is_a_number(client, value):
    response = client.post("/api/v1/tanks/", TANK | {"length_cm": value}, format="json")
    assert response.status_code == 400 and "length_cm" in response.data["errors"]


@pytest.mark.parametrize("value", ["NaN", "Infinity", "1e999"])
def test_a_number_json_can_not_carry_is_refused(client, value):
    body = json.dumps(TANK).replace("35", value)
    response = client.post("/api/v1/tanks/", body, content_type="application/json")
    assert response.status_code == 400


@pytest.mark.parametrize("body", ["{", "[]", "3", "", "null", "\x00"])
def test_a_broken_body_is_a_bad_request(client, body):
    response = client.post("/api/v1/tanks/", body, content_type="application/json")
    assert response.status_code == 400


def test_forms_are_not_taken(client):
    assert client.post("/api/v1/tanks/", TANK, format="multipart").status_code == 415


def test_bounds_hold(client):
    response = client.post("/api/v1/tanks/", TANK | {"length_cm": 5}, format="json")
    assert response.status_code == 400 and "10" in response.data["errors"]["length_cm"][0]


def test_time_zone_is_a_known_one(client):
    response = client.post("/api/v1/tanks/", TANK | {"time_zone": "Mars/Olympus"}, format="json")
    assert response.status_code == 400 and list(response.data["errors"]) == ["time_zone"]


def test_rock_stays_in_the_water(client, tank):
    url = f"/api/v1/tanks/{tank.pk}/rocks/"
    response = client.post(url, ROCK | {"length_cm": 56}, format="json")
    assert response.status_code == 400 and list(response.data["errors"]) == ["length_cm"]


def test_changed_rock_is_checked_whole(client, tank):
    rock = make_rock(tank, x_cm=20, length_cm=20)
    url = f"/api/v1/tanks/{tank.pk}/rocks/{rock.pk}/"
    response = client.patch(url, {"x_cm": 45}, format="json")
    assert response.status_code == 400
    rock.refresh_from_db()
    assert rock.x_cm == 20


def test_tank_does_not_shrink_below_a_reading(client, tank):
    make_survey(tank, readings=[(55, 5, 5, 100)])
    response = client.patch(f"/api/v1/tanks/{tank.pk}/", {"length_cm": 50}, format="json")
    assert "1 reading" in response.data["errors"]["length_cm"][0]


def test_spot_stays_in_the_water(client, tank):
    coral = make_coral(tank, at_cm=None)
    spot = {"x_cm": 61, "y_cm": 5, "depth_cm": 5, "since": "2026-05-01"}
    url = f"/api/v1/tanks/{tank.pk}/corals/{coral.pk}/spots/"
    assert "Outside the water" in client.post(url, spot, format="json").data["errors"]["x_cm"][0]


def test_second_spot_of_a_day_is_refused(client, tank):
    coral = make_coral(tank, at_cm=None)
    spot = {"x_cm": 6, "y_cm": 5, "depth_cm": 5, "since": "2026-05-01"}
    url = f"/api/v1/tanks/{tank.pk}/corals/{coral.pk}/spots/"
    assert client.post(url, spot, format="json").status_code == 201
    response = client.post(url, spot, format="json")
    assert response.status_code == 400
    assert "already has a spot" in response.data["errors"]["non_field_errors"][0]


def test_future_is_refused(client, tank):
    url = f"/api/v1/tanks/{tank.pk}/light-changes/"
    body = {"happened_at": "2999-01-01T00:00:00Z", "summary": "Later"}
    assert "future" in client.post(url, body, format="json").data["errors"]["happened_at"][0]


def test_ramps_must_fit_into_the_day(client, tank):
    url = f"/api/v1/tanks/{tank.pk}/light-changes/"
    body = {"happened_at": "2026-01-01T00:00:00Z", "summary": "x", "day_hours": 8, "ramp_hours": 5}
    assert "ramps" in client.post(url, body, format="json").data["errors"]["ramp_hours"][0]


def test_light_changes_are_picked_by_time(client, tank):
    url = f"/api/v1/tanks/{tank.pk}/light-changes/"
    for month in ("03", "06"):
        body = {"happened_at": f"2026-{month}-01T00:00:00Z", "summary": f"in {month}"}
        client.post(url, body, format="json")
    results = client.get(url, {"happened_at__gte": "2026-05-01T00:00:00Z"}).data["results"]
    assert [row["summary"] for row in results] == ["in 06"]


def test_maker_of_a_row_is_remembered(client, owner, tank):
    url = f"/api/v1/tanks/{tank.pk}/light-changes/"
    body = {"happened_at": "2026-01-01T00:00:00Z", "summary": "x"}
    client.post(url, body, format="json")
    assert tank.light_changes.get().created_by == owner


def test_tank_list_takes_no_more_queries_for_more_tanks(client, owner, connection_counts):
    make_tank(owner)
    few = connection_counts(lambda: client.get("/api/v1/tanks/"))
    for _ in range(20):
        make_tank(owner)
    assert connection_counts(lambda: client.get("/api/v1/tanks/")) == few


def test_filter_by_no_date_is_a_bad_request(client, tank):
    url = f"/api/v1/tanks/{tank.pk}/light-changes/"
    assert client.get(url, {"happened_at__gte": "x"}).status_code == 400


@pytest.mark.parametrize("date", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"])
def test_filter_at_the_calendars_ends_is_answered_not_broken(client, tank, date):
    # SQLite can't turn them to UTC and says so; PostgreSQL can and finds nothing.
    answer = client.get(f"/api/v1/tanks/{tank.pk}/light-changes/", {"happened_at__gte": date})
    assert answer.status_code == 400 or answer.data["results"] == []


@pytest.mark.parametrize("name", ["\ud800", "a\x00b", "", " ", "x" * 81, ["x"], 10**400])
def test_odd_names_are_refused(client, name):
    body = json.dumps(TANK | {"name": name})
    response = client.post("/api/v1/tanks/", body, content_type="application/json")
    assert response.status_code == 400 and "name" in response.data["errors"]


@pytest.mark.parametrize("date", ["0001-01-01T00:00:00+14:00", "2026-02-30T00:00:00Z", 5, None, []])
def test_odd_times_are_refused(client, tank, date):
    url = f"/api/v1/tanks/{tank.pk}/light-changes/"
    response = client.post(url, {"happened_at": date, "summary": "x"}, format="json")
    assert response.status_code == 400 and "happened_at" in response.data["errors"]


@pytest.mark.parametrize(
    ("also", "status"), [(["growth"], 201), (["paling"], 400), (["weather"], 400), ("growth", 400)]
)
def test_further_signs_of_a_note_pass_the_model(client, owner, also, status):
    coral = make_coral(make_tank(owner))
    url = f"/api/v1/tanks/{coral.tank_id}/corals/{coral.pk}/notes/"
    note = {"noted_on": coral.tank.today().isoformat(), "seen": "paling", "also_seen": also}
    response = client.post(url, note, format="json")
    assert response.status_code == status
    assert "also_seen" in (response.data if status == 201 else response.data["errors"])
