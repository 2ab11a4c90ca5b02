"""Plans, acclimations and trials over the API: whoever sees them reads them, nobody writes them."""

import pytest
from rest_framework.test import APIClient

from apps.outcomes.models import Trial, TrialCoral
from apps.planning.models import Plan
from tests.factories import make_acclimation, make_coral, make_plan, make_tank, make_tick

WHAT_IF = {
    "kind": Plan.Kind.WHAT_IF,
    "name": "Raised",
    "asked": {"version": 1, "depth_cm": 20.0, "rows": []},
}
READERS = [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]


def api(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


def of_tank(tank, kind):
    return f"/api/v1/tanks/{tank.pk}/{kind}/"


@pytest.fixture
def acclimation(tank):
    return make_acclimation(make_coral(tank))


@pytest.fixture
def trial(tank):
    trial = Trial.objects.create(
        tank=tank, question="less", step="down", factor=0.8, began_on=tank.today()
    )
    TrialCoral.objects.create(trial=trial, coral=make_coral(tank), drawn=4)
    return trial


@pytest.mark.parametrize(("who", "status"), READERS)
def test_who_reads_a_plan(request, owner, tank, who, status):
    plan = make_plan(owner, tank, **WHAT_IF)
    result = api(request.getfixturevalue(who)).get(f"/api/v1/plans/{plan.pk}/")
    assert result.status_code == status


def test_a_plan_comes_with_its_documents(owner, tank):
    plan = make_plan(owner, tank, **WHAT_IF)
    result = api(owner).get(f"/api/v1/plans/{plan.pk}/").data
    assert result["asked"] == WHAT_IF["asked"] and result["answer"] == {}


def test_a_list_of_plans_tells_heads_of_one_kind(owner, tank):
    make_plan(owner, tank, name="Two panels")
    make_plan(owner, tank, **WHAT_IF)
    result = api(owner).get("/api/v1/plans/", {"kind": "layout", "tank": tank.pk}).data["results"]
    assert [row["name"] for row in result] == ["Two panels"] and "asked" not in result[0]


def test_a_plan_without_a_tank_is_its_owners_alone(owner, co_keeper):
    plan = make_plan(owner)
    statuses = [api(u).get(f"/api/v1/plans/{plan.pk}/").status_code for u in (owner, co_keeper)]
    assert statuses == [200, 404]


def test_a_plan_taken_away_is_not_read(owner, tank):
    plan = make_plan(owner, tank)
    plan.remove()
    assert api(owner).get(f"/api/v1/plans/{plan.pk}/").status_code == 404


@pytest.mark.parametrize("kind", ["acclimations", "trials"])
@pytest.mark.parametrize(("who", "status"), READERS)
def test_who_reads_what_is_followed(request, tank, kind, who, status):
    assert api(request.getfixturevalue(who)).get(of_tank(tank, kind)).status_code == status


def test_an_acclimation_comes_with_steps_and_ticks(owner, tank, acclimation):
    make_tick(acclimation, 1)
    result = api(owner).get(of_tank(tank, "acclimations")).data["results"][0]
    assert [step["light_umol"] for step in result["steps"]] == [120, 144, 170]
    assert result["steps"][1]["planned_on"] == acclimation.planned_on(2).isoformat()
    assert [tick["number"] for tick in result["ticks"]] == [1]


def test_an_acclimation_goes_with_its_coral(owner, tank, acclimation):
    acclimation.coral.remove()
    assert api(owner).get(of_tank(tank, "acclimations")).data["results"] == []


def test_a_trial_comes_with_the_days_drawn(owner, tank, trial):
    draw = trial.draws.get()
    result = api(owner).get(of_tank(tank, "trials")).data["results"][0]
    assert result["draws"] == [{"coral": draw.coral_id, "starts_on": draw.starts_on.isoformat()}]


def test_rows_of_another_tank_are_not_found_under_ones_own(owner, acclimation, trial):
    other = make_tank(owner)
    for kind, row in (("acclimations", acclimation), ("trials", trial)):
        assert api(owner).get(f"{of_tank(other, kind)}{row.pk}/").status_code == 404, kind


@pytest.mark.parametrize(("who", "status"), [("owner", 405), ("viewer", 403), ("stranger", 404)])
def test_what_is_followed_is_not_written(request, tank, who, status):
    for kind in ("acclimations", "trials"):
        sent = api(request.getfixturevalue(who)).post(of_tank(tank, kind), {}, format="json")
        assert sent.status_code == status, kind


def test_a_plan_is_not_written(owner, tank):
    plan = make_plan(owner, tank)
    assert api(owner).delete(f"/api/v1/plans/{plan.pk}/").status_code == 405
