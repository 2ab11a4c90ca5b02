"""A survey's plan of points by the API: read, laid out by a pattern, replaced and emptied."""

import pytest
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.models import PlannedPoint, Reading
from apps.surveys.plan import points
from tests.api.programs import program
from tests.factories import make_coral, make_rock, make_survey

GRID = {"pattern": "grid", "nx": 3, "ny": 2, "depths_cm": [10, 25.5]}


@pytest.fixture
def client(owner):
    return program(owner)


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


def at(survey, *rest):
    place = ["/api/v1/tanks", survey.tank_id, "surveys", survey.pk, "plan", *rest, ""]
    return "/".join(map(str, place))


def lay_out(client, survey, **said):
    return client.post(at(survey), GRID | said, format="json")


def read_first(survey):
    """Note a reading at the first planned point."""
    point = survey.planned_points.first()
    place = {"x_cm": point.x_cm, "y_cm": point.y_cm, "depth_cm": point.depth_cm}
    Reading.objects.create(
        survey=survey, position=1, value_umol=100, client_id=point.client_id, **place
    )
    return point


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


@pytest.mark.parametrize(
    ("who", "reads", "writes"),
    [("owner", 200, 200), ("co_keeper", 200, 200), ("viewer", 200, 403), ("stranger", 404, 404)],
)
def test_who_reads_a_plan_and_who_lays_it_out(request, survey, who, reads, writes):
    client = program(request.getfixturevalue(who))
    assert client.get(at(survey)).status_code == reads
    assert client.post(at(survey, "look"), GRID, format="json").status_code == writes
    assert not PlannedPoint.objects.exists()
    assert lay_out(client, survey).status_code == writes
    assert client.delete(at(survey, 1)).status_code == {200: 204}.get(writes, writes)
    assert client.delete(at(survey)).status_code == {200: 204}.get(writes, writes)


@pytest.mark.parametrize(("scope", "writes"), [("read", 403), ("share", 403), ("write", 200)])
def test_which_token_lays_a_plan_out(survey, owner, scope, writes):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    assert client.get(at(survey)).status_code == 200
    assert lay_out(client, survey).status_code == writes


def test_a_pattern_is_looked_at_and_then_laid_out(client, survey):
    seen = client.post(at(survey, "look"), GRID, format="json").json()
    made = lay_out(client, survey).json()
    assert made["new"] == len(seen["points"]) == 12 and made["left_out"] == ""
    places = [(p["x_cm"], p["y_cm"], p["depth_cm"]) for p in made["points"]]
    assert places == [(p["x_cm"], p["y_cm"], p["depth_cm"]) for p in seen["points"]]
    assert {place[2] for place in places} == {10, 26}
    assert [p["number"] for p in made["points"]] == list(range(1, 13))


def test_a_plan_is_read_with_the_pattern_it_was_laid_out_by(client, survey):
    assert client.get(at(survey)).json() == {"points": [], "laid_out_by": None}
    lay_out(client, survey)
    read_first(survey)
    plan = client.get(at(survey)).json()
    assert plan["laid_out_by"] == GRID
    assert [point["is_read"] for point in plan["points"]] == [True] + [False] * 11


def test_a_reading_sent_with_a_points_mark_is_that_points(client, survey):
    point = lay_out(client, survey).json()["points"][3]
    row = {n: point[n] for n in ("x_cm", "y_cm", "depth_cm", "client_id")} | {"value_umol": 90}
    address = at(survey).removesuffix("plan/")
    client.patch(address, {"readings": [row], "version": 0}, format="json")
    assert client.get(at(survey)).json()["points"][3]["is_read"]


def test_unread_points_are_replaced_or_kept_as_said(client, survey):
    lay_out(client, survey)
    first = read_first(survey)
    made = lay_out(client, survey, nx=1, ny=1).json()
    assert made["new"] == 2 and [p["number"] for p in made["points"]] == [1, 2, 3]
    assert made["points"][0]["client_id"] == str(first.client_id)
    kept = lay_out(client, survey, nx=2, ny=1, planned_before="add").json()
    assert len(kept["points"]) == 7


def test_points_in_rock_are_left_out_and_said(client, survey):
    make_rock(survey.tank, x_cm=0, y_cm=0, depth_cm=0, length_cm=30, width_cm=50, height_cm=50)
    made = lay_out(client, survey).json()
    assert made["new"] < 12 and "in rock" in made["left_out"]


def test_the_corals_spots_are_planned_with_their_names(client, survey):
    coral = make_coral(survey.tank)
    [point] = client.post(at(survey), {"pattern": "corals"}, format="json").json()["points"]
    assert point["words"] == coral.name


def test_a_plan_is_emptied_and_its_readings_stay(client, survey):
    lay_out(client, survey)
    read_first(survey)
    assert client.delete(at(survey, 2)).status_code == 204
    assert client.delete(at(survey, 2)).status_code == 404
    assert survey.planned_points.count() == 11
    assert client.delete(at(survey)).status_code == 204
    assert not survey.planned_points.exists() and survey.readings.count() == 1


@pytest.mark.parametrize(
    ("said", "field"),
    [({"pattern": "spiral"}, "pattern"), ({"nx": 0}, "nx"), ({"depths_cm": []}, "depths_cm"),
     ({"depths_cm": [900]}, "depths_cm"), ({"depths_cm": [True]}, "depths_cm"),
     ({"gap": 5}, "gap"), ({"planned_before": "drop"}, "planned_before"),
     ({"pattern": "ring", "count": 3}, "gap_cm"), ({"pattern": "suggested", "count": 3}, "pattern"),
     ({"pattern": "ring", "count": 3, "gap_cm": 5}, "pattern"),
     ({"pattern": "corals"}, "pattern")],
)  # fmt: skip
def test_what_does_not_fit_is_refused_at_its_field(client, survey, said, field):
    assert list(errors(lay_out(client, survey, **said))) == [field]
    assert not survey.planned_points.exists()


def test_more_points_than_a_survey_holds_are_refused(client, survey, monkeypatch):
    monkeypatch.setattr(points, "SURVEY_READINGS_MAX", 5)
    assert SURVEY_READINGS_MAX > 5
    assert list(errors(lay_out(client, survey))) == ["pattern"]
    assert not survey.planned_points.exists()
