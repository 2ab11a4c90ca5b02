"""Acclimations and trials by the API: made, ticked, dated anew, stopped, as on their pages."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.outcomes.models import Trial
from apps.planning.models import Acclimation, AcclimationTick
from tests.api.programs import program
from tests.factories import make_acclimation, make_coral, make_tank, make_tick, make_trial
from tests.planning.acclimation.test_acclimation_views import post_new, surveyed


@pytest.fixture
def client(owner):
    return program(owner)


def by_person(*statuses):
    return list(zip(("owner", "co_keeper", "viewer", "stranger"), statuses, strict=True))


@pytest.fixture
def plan(tank):
    return make_acclimation(make_coral(tank))


def at(tank, kind, *rest):
    return "/".join(["/api/v1/tanks", str(tank.pk), kind, *map(str, rest), ""])


def ticks(plan, *rest):
    return at(plan.tank, "acclimations", plan.pk, "ticks", *rest)


def tick(client, plan, number, day=None):
    day = day or plan.tank.today()
    return client.post(ticks(plan), {"number": number, "done_on": str(day)})


def errors(answer):
    assert answer.status_code == 400
    return list(answer.json()["errors"])


# --- Ticks ----------------------------------------------------------------------------------
@pytest.mark.parametrize(("who", "status"), by_person(201, 201, 403, 404))
def test_who_may_tick(request, plan, who, status):
    assert tick(program(request.getfixturevalue(who)), plan, 1).status_code == status
    assert AcclimationTick.objects.count() == (status == 201)


@pytest.mark.parametrize(("who", "status"), by_person(204, 204, 403, 404))
def test_who_may_untick(request, plan, who, status):
    row = make_tick(plan, 1)
    client = program(request.getfixturevalue(who))
    assert client.delete(ticks(plan, row.pk)).status_code == status
    assert AcclimationTick.objects.count() == (status != 204)


def test_the_step_that_is_next_is_named_and_ticked(client, plan):
    at_plan = at(plan.tank, "acclimations", plan.pk)
    upcoming = client.get(at_plan).data["next"]
    assert upcoming == {"number": 1, "due_on": str(plan.starts_on), "goes_back": False}
    made = tick(client, plan, upcoming["number"])
    assert client.get(made["Location"]).data["number"] == 1
    after = client.get(at_plan).data
    assert after["next"]["number"] == 2
    assert after["next"]["due_on"] == str(plan.starts_on + dt.timedelta(days=plan.every_days))
    assert client.delete(made["Location"]).status_code == 204
    assert client.get(at_plan).data["next"] == upcoming


def test_any_other_step_is_refused_as_on_the_page(client, as_user, owner, plan):
    refused = tick(client, plan, 2)
    [said] = refused.json()["errors"]["non_field_errors"]
    page = as_user(owner).post(
        reverse("acclimation_tick", args=[plan.pk, 2]), {"done_on": plan.tank.today()}
    )
    assert page.context["tick_form"].non_field_errors() == [said]


def test_too_soon_and_ahead_are_refused_at_their_day(client, plan):
    day = plan.tank.today()
    assert errors(tick(client, plan, 1, day + dt.timedelta(days=1))) == ["done_on"]
    tick(client, plan, 1)
    assert errors(tick(client, plan, 2, day)) == ["done_on"]


def test_only_the_newest_tick_is_taken_back(client, tank):
    plan = make_acclimation(make_coral(tank), starts_days_ago=9)
    first, second = make_tick(plan, 1, days_ago=6), make_tick(plan, 2, days_ago=3)
    assert errors(client.delete(ticks(plan, first.pk)))
    assert [row["id"] for row in client.get(ticks(plan)).data["results"]] == [first.pk, second.pk]
    assert client.delete(ticks(plan, second.pk)).status_code == 204


def test_a_tick_sent_twice_by_one_key_is_one_step(client, plan):
    body, key = {"number": 1, "done_on": str(plan.starts_on)}, {"Idempotency-Key": "t"}
    answers = [client.post(ticks(plan), body, headers=key) for _ in range(2)]
    assert answers[0].data == answers[1].data and AcclimationTick.objects.count() == 1


def test_a_plan_of_another_tank_is_not_ticked(client, owner, plan):
    address = at(make_tank(owner), "acclimations", plan.pk, "ticks")
    assert client.post(address, {"number": 1, "done_on": str(plan.starts_on)}).status_code == 404


# --- Plans ----------------------------------------------------------------------------------
def test_a_coral_gets_the_plan_its_page_makes(client, as_user, owner, tank):
    coral = surveyed(tank)
    post_new(as_user(owner), coral, starts_on=str(tank.today()))
    by_page = Acclimation.objects.get()
    body = {"coral": coral.pk, "start_umol": 200, "target_umol": 300, "pace": "fast"}
    made = client.post(at(tank, "acclimations"), body)
    assert made.status_code == 201
    stated = [(s["light_umol"], s["setting"]) for s in made.data["steps"]]
    assert stated == list(by_page.steps.values_list("light_umol", "setting"))
    assert made.data["starts_on"] == str(tank.today()) and made.data["next"]["number"] == 1


def test_the_light_a_coral_is_used_to_need_not_be_sent(client, tank):
    coral = surveyed(tank)
    made = client.post(at(tank, "acclimations"), {"coral": coral.pk, "target_umol": 250})
    assert made.data["start_umol"] > 0 and made.data["target_umol"] == 250


def test_a_whole_tank_is_led_by_one_of_its_corals(client, tank):
    coral = surveyed(tank)
    made = client.post(at(tank, "acclimations"), {"whole_tank": True, "factor": 0.8})
    assert made.status_code == 201 and made.data["coral"] == coral.pk
    assert made.data["target_umol"] == pytest.approx(0.8 * made.data["start_umol"], rel=0.05)


@pytest.mark.parametrize(
    ("body", "wrong"),
    [
        ({}, ["coral", "target_umol"]),
        ({"target_umol": 250}, ["coral"]),
        ({"whole_tank": True}, ["factor"]),
        ({"whole_tank": True, "factor": 1.1, "target_umol": 5}, ["target_umol"]),
        ({"whole_tank": True, "factor": 1.1, "means": "depth"}, ["means"]),
        ({"rig": []}, ["rig"]),
    ],
)
def test_what_is_no_plan_is_refused_by_its_field(client, tank, body, wrong):
    surveyed(tank)
    assert errors(client.post(at(tank, "acclimations"), body)) == wrong
    assert not Acclimation.objects.exists()


def test_more_light_than_the_lamps_give_is_refused(client, tank):
    body = {"coral": surveyed(tank).pk, "target_umol": 1900}
    assert errors(client.post(at(tank, "acclimations"), body)) == ["target_umol"]
    assert not Acclimation.objects.exists()


def test_a_coral_whose_light_is_not_known_gets_no_plan(client, tank):
    body = {"coral": make_coral(tank, at_cm=None).pk, "target_umol": 200}
    assert errors(client.post(at(tank, "acclimations"), body)) == ["coral"]
    assert errors(client.post(at(tank, "acclimations"), {"whole_tank": True, "factor": 1.1})) == [
        "whole_tank"
    ]


def test_days_and_words_of_a_plan_change_and_its_light_stays(client, plan):
    address = at(plan.tank, "acclimations", plan.pk)
    whole = client.get(address).data
    assert client.put(address, whole, format="json").status_code == 200
    assert client.patch(address, {"every_days": 9, "text": "Slower"}).data["every_days"] == 9
    assert errors(client.patch(address, {"target_umol": 90, "pace": "slow"})) == [
        "pace", "target_umol",
    ]  # fmt: skip


@pytest.mark.parametrize(("who", "status"), by_person(204, 204, 403, 404))
def test_who_takes_a_plan_away(request, plan, who, status):
    client = program(request.getfixturevalue(who))
    assert client.delete(at(plan.tank, "acclimations", plan.pk)).status_code == status
    assert Acclimation.objects.present().exists() == (status != 204)


# --- Trials ---------------------------------------------------------------------------------
def trial_body(tank, *corals, **said):
    return {
        "question": "less", "step": "One ledge down", "factor": 0.8,
        "began_on": str(tank.today()), "corals": [coral.pk for coral in corals],
    } | said  # fmt: skip


@pytest.mark.parametrize(("who", "status"), by_person(201, 201, 403, 404))
def test_who_begins_a_trial(request, tank, who, status):
    corals = [make_coral(tank, name=name) for name in "ab"]
    client = program(request.getfixturevalue(who))
    made = client.post(at(tank, "trials"), trial_body(tank, *corals))
    assert made.status_code == status and Trial.objects.count() == (status == 201)
    if status == 201:
        assert [draw["coral"] for draw in made.data["draws"]] == [coral.pk for coral in corals]


def test_what_is_no_trial_is_refused_by_its_field(client, owner, tank):
    coral = make_coral(tank)
    others = [make_coral(tank, at_cm=None), make_coral(make_tank(owner))]
    for wrong in (trial_body(tank), *(trial_body(tank, coral, other) for other in others)):
        assert errors(client.post(at(tank, "trials"), wrong)) == ["corals"]
    many = [make_coral(tank, name=f"{n}") for n in range(5)]
    assert errors(client.post(at(tank, "trials"), trial_body(tank, *many))) == ["corals"]
    more = client.post(at(tank, "trials"), trial_body(tank, coral, factor=1.2))
    assert errors(more) == ["factor"] and not Trial.objects.exists()


def test_a_trial_is_stopped_and_goes_on(client, tank):
    address = at(tank, "trials", make_trial(tank).pk)
    assert client.post(f"{address}stop/").data["stopped_on"] == str(tank.today())
    assert client.post(f"{address}unstop/").data["stopped_on"] is None
    assert client.post(f"{address}resume/").data["resumed_on"] == str(tank.today())
    assert client.patch(address, {"step": "Two"}).status_code == 405
    assert client.delete(address).status_code == 204 and not Trial.objects.present().exists()


def test_more_light_for_a_whole_tank_than_the_lamps_give_is_refused_at_its_factor(client, tank):
    surveyed(tank)
    assert errors(client.post(at(tank, "acclimations"), {"whole_tank": True, "factor": 4})) == [
        "factor"
    ]


def test_corals_are_counted_before_each_is_looked_up(client, tank):
    body = trial_body(tank) | {"corals": list(range(1, 2001))}
    with CaptureQueriesContext(connection) as caught:
        assert errors(client.post(at(tank, "trials"), body)) == ["corals"]
    assert len(caught) < 20
