"""Plans, acclimations and trials over the API: whoever sees them reads them; layouts are made."""

import pytest
from django.test import Client
from rest_framework.test import APIClient

from apps.outcomes.models import Trial, TrialCoral
from apps.planning.models import Plan
from apps.planning.stored_layout import read_question
from tests.factories import (
    make_acclimation,
    make_coral,
    make_fixture,
    make_plan,
    make_tank,
    make_tick,
)
from tests.planning.layout_files.questions import PANEL, QUESTION, question, with_fixture
from tests.planning.questions import make_layout_plan

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


@pytest.mark.parametrize("number", ["-1", "1" * 30, "one"])
def test_a_number_that_no_tank_has_is_refused(owner, number):
    assert api(owner).get("/api/v1/plans/", {"tank": number}).status_code == 400


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


def asked_for(tank=None, **words):
    """Return the body of a new layout; that of a tank describes no tank."""
    question = QUESTION if tank is None else {k: v for k, v in QUESTION.items() if k != "tank"}
    return {"name": "Two panels", "tank": tank and tank.pk, "question": question} | words


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 201), ("viewer", 400), ("stranger", 400)]
)
def test_who_makes_a_layout_of_a_tank(request, tank, who, status):
    sent = api(request.getfixturevalue(who)).post("/api/v1/plans/", asked_for(tank))
    assert sent.status_code == status
    assert Plan.objects.count() == (status == 201)


def test_a_layout_rests_on_its_tanks_own_water(owner, tank):
    pk = api(owner).post("/api/v1/plans/", asked_for(tank)).data["id"]
    question = read_question(Plan.objects.get(pk=pk).asked).question
    assert (question.tank, question.rocks) == (tank.scene(), tank.scene_rocks())


def test_a_layout_made_here_opens_on_its_page(owner, tank):
    answer = api(owner).post("/api/v1/plans/", asked_for(tank))
    page = Client()
    page.force_login(owner)
    assert page.get(f"/plans/layouts/{answer.data['id']}/").status_code == 200
    assert page.get(f"/plans/layouts/{answer.data['id']}/edit/").status_code == 200


def test_a_layout_is_searched_turn_by_turn(owner):
    plan = api(owner).post("/api/v1/plans/", asked_for()).data
    assert plan["answer"] == {}
    for _ in range(100):
        plan = api(owner).post(f"/api/v1/plans/{plan['id']}/search/").data
        if plan["answer"]["finished"]:
            break
    assert plan["answer"]["finished"]


def test_another_question_starts_the_search_anew(owner):
    plan = api(owner).post("/api/v1/plans/", asked_for()).data
    at = f"/api/v1/plans/{plan['id']}/"
    api(owner).post(f"{at}search/")
    same = api(owner).patch(at, {"name": "Panels", "question": QUESTION}).data
    assert same["name"] == "Panels" and same["answer"]
    assert api(owner).patch(at, {"question": with_fixture(watts=80)}).data["answer"] == {}


def test_a_lamp_may_be_one_of_the_keepers(owner, stranger):
    own, others = make_fixture(owner), make_fixture(stranger)
    sent = api(owner).post("/api/v1/plans/", asked_for(question=with_fixture(fixture=own.pk)))
    assert read_question(Plan.objects.get(pk=sent.data["id"]).asked).sources == (f"own:{own.pk}",)
    refused = api(owner).post("/api/v1/plans/", asked_for(question=with_fixture(fixture=others.pk)))
    assert list(refused.json()["errors"]["question"]) == ["fixture"]


@pytest.mark.parametrize(
    ("key", "change"),
    [
        ("beams_deg", with_fixture(beams_deg="wide")),
        ("hangs_at", with_fixture(hangs_at=[{"x_cm": 5, "y_cm": 5, "height_cm": 20}])),
        ("limits", with_fixture(owned=0, price=900) | {"limits": {"count": 1, "budget": 5}}),
        ("fixtures", question(fixtures=[PANEL | {"name": f"{n}"} for n in range(7)])),
    ],
)
def test_a_question_that_no_plan_has_is_refused_by_its_key(owner, key, change):
    refused = api(owner).post("/api/v1/plans/", asked_for(question=change))
    assert refused.status_code == 400
    assert list(refused.json()["errors"]["question"]) == [key]


def test_a_plan_of_a_tank_describes_none(owner, tank):
    refused = api(owner).post("/api/v1/plans/", asked_for(tank, question=QUESTION))
    assert list(refused.json()["errors"]["question"]) == ["tank"]


def test_a_plan_stays_with_its_tank(owner, tank):
    plan = make_layout_plan(owner, tank)
    sent = api(owner).patch(f"/api/v1/plans/{plan.pk}/", {"tank": make_tank(owner).pk})
    assert list(sent.json()["errors"]) == ["tank"]


def test_a_what_if_is_named_here_and_not_asked(owner, tank):
    at = f"/api/v1/plans/{make_plan(owner, tank, **WHAT_IF).pk}/"
    assert api(owner).patch(at, {"name": "Lowered"}).data["name"] == "Lowered"
    assert list(api(owner).patch(at, {"question": {}}).json()["errors"]) == ["question"]
    assert api(owner).post(f"{at}search/").status_code == 400


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 204), ("co_keeper", 204), ("viewer", 403), ("stranger", 404)]
)
def test_who_takes_a_plan_away(request, owner, tank, who, status):
    plan = make_layout_plan(owner, tank)
    sent = api(request.getfixturevalue(who)).delete(f"/api/v1/plans/{plan.pk}/")
    assert sent.status_code == status
    assert Plan.objects.present().filter(pk=plan.pk).exists() == (status != 204)
