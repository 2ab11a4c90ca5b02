"""What-ifs by the API: another rig tried over a tank, and kept as a plan as on its page."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.planning.models import Plan
from tests.api.programs import program
from tests.factories import make_coral, make_fixture, make_lit_survey
from tests.planning.what_ifs import fields_of


@pytest.fixture
def client(owner):
    return program(owner)


@pytest.fixture
def lit(tank):
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    return tank


def at(tank, *rest):
    return "/".join(map(str, ["/api/v1/tanks", tank.pk, "what-ifs", *rest, ""]))


def look(client, tank, **said):
    return client.post(at(tank, "look"), said, format="json")


def keep(client, tank, headers=None, **said):
    return client.post(at(tank), said, format="json", headers=headers or {})


DIMMED = {"hung": [{"number": 1, "level_percent": 50}]}


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


@pytest.mark.parametrize(
    ("who", "looks", "keeps"),
    [("owner", 200, 201), ("co_keeper", 200, 201), ("viewer", 403, 403), ("stranger", 404, 404)],
)
def test_who_tries_a_what_if_and_keeps_it(request, lit, who, looks, keeps):
    client = program(request.getfixturevalue(who))
    assert look(client, lit, **DIMMED).status_code == looks and not Plan.objects.exists()
    assert keep(client, lit, **DIMMED).status_code == keeps
    assert Plan.objects.count() == (keeps == 201)


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 201)])
def test_which_token_keeps_a_what_if(owner, lit, scope, status):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    assert keep(client, lit, **DIMMED).status_code == status


def test_less_light_is_less_light(client, lit):
    coral = make_coral(lit)
    same, dimmed = look(client, lit).json(), look(client, lit, **DIMMED).json()
    assert same["ratio"] == pytest.approx(1.0) and 0.3 < dimmed["ratio"] < 1
    [row] = dimmed["corals"]
    assert row["coral"] == coral.pk and row["then_umol"] < row["now_umol"]
    assert row["then_low_umol"] <= row["then_umol"] <= row["then_high_umol"]
    assert dimmed["zones"] and dimmed["depth_cm"] == pytest.approx(0.4 * lit.depth_cm)


def test_what_is_kept_is_what_its_page_keeps(client, as_user, owner, lit):
    make_coral(lit)
    made = keep(client, lit, **DIMMED, depth_cm=20, name="Dimmed", notes="For summer")
    page = as_user(owner)
    fields = fields_of(page.get(reverse("what_if", args=[lit.pk])))
    shown = page.get(
        reverse("what_if", args=[lit.pk]), fields | {"hung-0-level_percent": "50", "depth": "20cm"}
    )
    rig = shown.context["rig"]
    page.post(reverse("what_if_save", args=[lit.pk]), {"rig": rig, "name": "Dimmed"})
    by_page, by_program = Plan.objects.order_by("-pk")
    assert by_page.asked["rows"] == by_program.asked["rows"]
    # The page rounds the usual zones to what it shows, so their shares may differ.
    zones = [[(z["zone"], z["band"]) for z in p.answer["zones"]] for p in (by_page, by_program)]
    assert zones[0] == zones[1] and by_page.answer["corals"] == by_program.answer["corals"]
    assert by_page.answer["corals"] and by_program.owner == owner
    assert by_program.notes == "For summer"
    assert client.get(made["Location"]).json() == made.json()
    assert page.get(by_program.get_absolute_url()).status_code == 200


def test_one_without_a_name_is_named_after_what_it_does(client, lit):
    tried = look(client, lit, **DIMMED).json()
    assert keep(client, lit, **DIMMED).json()["name"] == tried["name"] and "50" in tried["name"]


def test_sent_twice_by_one_key_it_is_kept_once(client, lit):
    made = [keep(client, lit, headers={"Idempotency-Key": "one"}, **DIMMED) for _ in range(2)]
    assert made[0]["Location"] == made[1]["Location"] and Plan.objects.count() == 1


def test_a_lamp_is_hung_and_another_comes_down(client, owner, lit):
    fixture = make_fixture(owner)
    place = {"x_cm": 20, "y_cm": 20, "height_cm": 25}
    said = {"hung": [{"fixture": fixture.pk, **place}], "taken_down": [1]}
    plan = Plan.objects.get(pk=keep(client, lit, **said).json()["id"])
    assert [row["fixture_id"] for row in plan.asked["rows"]][-1] == fixture.pk
    assert 1 not in [row["number"] for row in plan.asked["rows"]]


ZONE = {
    "name": "Top", "x_cm": [0, 30], "y_cm": [0, 30], "depth_cm": [0, 10], "low_umol": 100,
    "high_umol": 300,
}  # fmt: skip


def test_shares_are_counted_of_the_zones_that_were_sent(client, lit):
    [zone] = look(client, lit, zones=[ZONE]).json()["zones"]
    assert (zone["name"], zone["low_umol"], zone["high_umol"]) == ("Top", 100, 300)
    plan = Plan.objects.get(pk=keep(client, lit, zones=[ZONE]).json()["id"])
    assert [one["name"] for one in plan.asked["zones"]] == ["Top"]


@pytest.mark.parametrize(
    ("said", "field"),
    [({"hung": [{"number": 99}]}, "hung"), ({"hung": [{"height_cm": 20}]}, "hung"),
     ({"hung": [{"number": 1, "level_percent": "x"}]}, "hung"),
     ({"hung": [{"number": 1, "heigth_cm": 20}]}, "hung"),
     ({"taken_down": [99]}, "taken_down"), ({"depth_cm": 900}, "depth_cm"),
     ({"zones": [ZONE | {"x_cm": [30, 0]}]}, "zones"), ({"zones": [ZONE | {"x": 1}]}, "zones"),
     ({"zones": [ZONE | {"high_umol": 50}]}, "zones"),
     ({"zones": [ZONE | {"weight": 1.5}]}, "zones"),
     ({"name": "x" * 99}, "name"),
     ({"rows": []}, "rows")],
)  # fmt: skip
def test_what_does_not_fit_is_refused_at_its_field(client, lit, said, field):
    assert list(errors(keep(client, lit, **said))) == [field]
    assert not Plan.objects.exists()


def test_without_a_map_or_any_light_it_says_why(client, tank, lit):
    assert "No light" in str(errors(keep(client, lit, taken_down=[1])))


def test_a_tank_without_a_map_is_told_so(client, tank):
    assert "light map" in str(errors(look(client, tank)))
