"""Plans handed on by the API: links made and revoked, plans duplicated and taken into a tank."""

import pytest
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.common.throttling import PASSPHRASE
from apps.planning.models import Plan
from apps.sharing.models import PlanLink
from tests.api.programs import program
from tests.factories import make_plan, make_tank, make_user
from tests.planning.questions import make_layout_plan
from tests.planning.what_ifs import make_what_if
from tests.test_every_address import link_of

WORD = "open sesame"


@pytest.fixture
def client(owner):
    return program(owner)


def with_token(user, scope):
    instance, token = AuthToken.objects.create(user)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    return APIClient(headers={"Authorization": f"Bearer {token}"})


@pytest.fixture
def plan(owner, tank):
    return make_layout_plan(owner, tank)


def at(plan, *rest):
    return "/".join(map(str, ["/api/v1/plans", plan.pk, "share-links", *rest, ""]))


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


# --- Links ------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_who_makes_a_link_of_a_plan(request, plan, who, status):
    client = program(request.getfixturevalue(who))
    assert client.post(at(plan), {"label": "Shop"}, format="json").status_code == status
    assert PlanLink.objects.count() == (status == 201)
    assert client.get(at(plan)).status_code == (200 if status == 201 else status)


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 201), ("write", 201)])
def test_which_token_makes_a_link(owner, plan, scope, status):
    client = with_token(owner, scope)
    assert client.get(at(plan)).status_code == 200
    assert client.post(at(plan), {}, format="json").status_code == status


def test_a_links_address_opens_the_plan_and_is_told_once(client, plan):
    made = client.post(at(plan), {"label": "Shop", "days": 7}, format="json")
    address = made.json()["address"]
    assert "no-store" in made["Cache-Control"]
    assert APIClient().get(address).status_code == 200
    read = client.get(made["Location"]).json()
    assert read["address"] is None and read["label"] == "Shop" and not read["has_passphrase"]


def test_a_revoked_link_opens_no_more_and_stays_listed(client, plan):
    made = client.post(at(plan), {}, format="json")
    assert client.delete(made["Location"]).status_code == 204
    assert APIClient().get(made.json()["address"]).status_code == 404
    [row] = client.get(at(plan)).json()["results"]
    assert row["revoked_at"]


def test_links_of_another_plan_are_not_there(client, owner, tank, plan):
    made = client.post(at(plan), {}, format="json")
    other = make_plan(owner, tank)
    assert client.get(at(other, made.json()["id"])).status_code == 404


@pytest.mark.parametrize(
    ("said", "field"),
    [({"days": 8}, "days"), ({"passphrase": "abc"}, "passphrase"), ({"as_of": None}, "as_of")],
)
def test_what_does_not_fit_a_link_is_refused_at_its_field(client, plan, said, field):
    assert list(errors(client.post(at(plan), said, format="json"))) == [field]


# --- Duplicates -------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 201), ("viewer", 403), ("stranger", 404)]
)
def test_who_duplicates_a_plan(request, plan, who, status):
    user = request.getfixturevalue(who)
    made = program(user).post(f"/api/v1/plans/{plan.pk}/duplicate/")
    assert made.status_code == status and Plan.objects.count() == 1 + (status == 201)


def test_a_duplicate_asks_the_same_and_is_made_once(client, plan):
    made = [
        client.post(f"/api/v1/plans/{plan.pk}/duplicate/", headers={"Idempotency-Key": "one"})
        for _ in range(2)
    ]
    copy = client.get(made[0]["Location"]).json()
    assert copy["asked"] == plan.asked and copy["name"] == f"{plan.name} (copy)"
    assert made[1]["Location"] == made[0]["Location"] and Plan.objects.count() == 2


# --- Taken into a tank ------------------------------------------------------------------------
def take(client, address, tank, **said):
    body = {"address": address, "tank": tank.pk} | said
    headers = said.pop("headers", {})
    body.pop("headers", None)
    return client.post("/api/v1/taken-plans/", body, format="json", headers=headers)


@pytest.fixture
def reader(db):
    return make_user()


@pytest.fixture
def mine(reader):
    return make_tank(reader)


def test_a_layout_is_taken_by_the_address_of_its_link(reader, mine, plan):
    link = link_of(PlanLink, plan=plan)
    made = take(program(reader), f"https://reef.example/p/{link.token}/", mine)
    assert made.status_code == 201, made.json()
    copy = Plan.objects.get(pk=made.json()["id"])
    assert (copy.owner, copy.tank, copy.answer) == (reader, mine, plan.answer)
    assert made.json()["tank"] == mine.pk and made.json()["kind"] == "layout"


def test_a_what_if_is_worked_out_anew_over_the_readers_tank(owner, tank, reader, mine):
    plan = make_what_if(owner, tank, level_percent=50)
    make_what_if(reader, mine)
    link = link_of(PlanLink, plan=plan)
    made = take(program(reader), link.token, mine)
    copy = Plan.objects.get(pk=made.json()["id"])
    assert copy.kind == "what_if" and copy.answer and copy.asked["rows"][0]["level_percent"] == 50


def test_sent_twice_by_one_key_it_is_taken_once(reader, mine, plan):
    link, client = link_of(PlanLink, plan=plan), program(reader)
    made = [take(client, link.token, mine, headers={"Idempotency-Key": "a"}) for _ in range(2)]
    assert made[0].json() == made[1].json() and Plan.objects.filter(owner=reader).count() == 1


@pytest.mark.parametrize("days", [-1, None])
def test_a_link_that_ran_out_or_never_was_opens_nothing(reader, mine, plan, days):
    token = "never-was" if days is None else link_of(PlanLink, plan=plan, days=days).token
    assert list(errors(take(program(reader), token, mine))) == ["address"]


def test_a_passphrase_is_asked_for_and_not_to_be_guessed(client, owner, reader, mine, plan):
    made = client.post(at(plan), {"passphrase": WORD}, format="json").json()
    other = program(reader)
    assert made["has_passphrase"]
    assert list(errors(take(other, made["address"], mine))) == ["passphrase"]
    assert list(errors(take(other, made["address"], mine, passphrase="nope"))) == ["passphrase"]
    assert take(other, made["address"], mine, passphrase=WORD).status_code == 201
    for _ in range(PASSPHRASE.most):
        answer = take(other, made["address"], mine, passphrase="nope")
    assert answer.status_code == 429 and answer["Retry-After"]
    assert take(other, made["address"], mine, passphrase=WORD).status_code == 429


def test_a_word_is_counted_only_where_a_link_asks_for_one(reader, mine, plan):
    link = link_of(PlanLink, plan=plan)
    answers = [
        take(program(reader), link.token, mine, passphrase="nope")
        for _ in range(PASSPHRASE.most + 1)
    ]
    assert {answer.status_code for answer in answers} == {201}


def test_a_wrong_word_is_counted_though_a_key_comes_with_it(client, reader, mine, plan):
    made = client.post(at(plan), {"passphrase": WORD}, format="json").json()
    for n in range(PASSPHRASE.most + 1):
        key = {"Idempotency-Key": f"k{n}"}
        answer = take(program(reader), made["address"], mine, passphrase="nope", headers=key)
    assert answer.status_code == 429


def test_a_plan_goes_into_no_tank_that_the_reader_may_not_edit(
    request, reader, mine, tank, plan, viewer
):
    link = link_of(PlanLink, plan=plan)
    assert list(errors(take(program(reader), link.token, tank))) == ["tank"]
    assert list(errors(take(program(viewer), link.token, tank))) == ["tank"]
    mine.ended_on = mine.today()
    mine.save()
    assert list(errors(take(program(reader), link.token, mine))) == ["tank"]


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 201)])
def test_which_token_takes_a_plan(reader, mine, plan, scope, status):
    link = link_of(PlanLink, plan=plan)
    assert take(with_token(reader, scope), link.token, mine).status_code == status


def test_a_what_if_is_not_taken_over_a_tank_without_a_map(owner, tank, reader, mine):
    link = link_of(PlanLink, plan=make_what_if(owner, tank))
    whole = errors(take(program(reader), link.token, mine))
    assert "light map" in str(whole) and not Plan.objects.filter(owner=reader).exists()
