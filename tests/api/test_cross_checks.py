"""Two surveys kept as a cross-check of two meters by the API, as on their page."""

import pytest
from django.urls import reverse
from knox.models import AuthToken
from rest_framework.test import APIClient

from apps.api.models import TokenCard
from apps.surveys.models import MeterCheck
from tests.api.programs import program
from tests.factories import let_in, make_meter, make_survey, make_tank, make_user

PLACES = [(10, 10, 10), (20, 10, 10), (30, 10, 20), (40, 20, 20)]


@pytest.fixture
def client(owner):
    return program(owner)


def taken_with(tank, meter, factor=1.0):
    rows = [(*place, (100 + 20 * n) * factor) for n, place in enumerate(PLACES)]
    return make_survey(tank, readings=rows, meter=meter)


@pytest.fixture
def pair(tank, owner):
    meters = [make_meter(owner, label=label) for label in ("One", "Two")]
    return [taken_with(tank, meter, factor) for meter, factor in zip(meters, (1, 1.1), strict=True)]


def keep(client, pair, headers=None, **said):
    first, second = pair
    address = f"/api/v1/tanks/{first.tank_id}/surveys/{first.pk}/cross-check/"
    return client.post(address, {"other": second.pk} | said, format="json", headers=headers or {})


def errors(answer):
    assert answer.status_code == 400, answer.json()
    return answer.json()["errors"]


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 400), ("viewer", 403), ("stranger", 404)]
)
def test_who_keeps_a_cross_check_of_the_owners_meters(request, pair, who, status):
    client = program(request.getfixturevalue(who))
    assert keep(client, pair).status_code == status
    assert MeterCheck.objects.count() == (status == 201)


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 201)])
def test_which_token_keeps_a_cross_check(owner, pair, scope, status):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name=scope, scope=scope)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    assert keep(client, pair).status_code == status


def test_a_co_keeper_keeps_one_of_their_own_meters(tank):
    friend = make_user()
    let_in(tank, friend, "co_keeper")
    pair = [taken_with(tank, make_meter(friend, label=label)) for label in ("One", "Two")]
    assert keep(program(friend), pair).status_code == 201


def test_what_is_kept_is_what_its_page_keeps(client, as_user, owner, pair):
    made = keep(client, pair)
    first, second = pair
    as_user(owner).post(reverse("cross_check_keep", args=[first.pk]), {"with": second.pk})
    by_program, by_page = MeterCheck.objects.order_by("pk")
    facts = ("meter", "other", "checked_on", "pairs")
    assert [getattr(by_page, n) for n in facts] == [getattr(by_program, n) for n in facts]
    assert client.get(made["Location"]).json() == made.json()
    assert made.json()["other"] == second.meter_id and len(made.json()["pairs"]) == len(PLACES)


def test_sent_twice_by_one_key_it_is_kept_once(client, pair):
    made = [keep(client, pair, headers={"Idempotency-Key": "one"}) for _ in range(2)]
    assert made[0]["Location"] == made[1]["Location"] and MeterCheck.objects.count() == 1


@pytest.mark.parametrize("later", [None, "Three"])
def test_sent_again_it_is_at_its_place_though_the_survey_has_another_meter(
    client, owner, pair, later
):
    key = {"Idempotency-Key": "one"}
    made = keep(client, pair, headers=key)
    meter = later and make_meter(owner, label=later)
    type(pair[0]).objects.filter(pk=pair[0].pk).update(meter=meter)
    again = keep(client, pair, headers=key)
    assert (again.status_code, again["Location"]) == (201, made["Location"])
    assert client.get(again["Location"]).json() == made.json()


def test_sent_again_after_its_meter_was_purged_it_has_no_place(client, pair):
    key = {"Idempotency-Key": "one"}
    keep(client, pair, headers=key)
    MeterCheck._base_manager.all().delete()
    again = keep(client, pair, headers=key)
    assert again.status_code == 201 and not again.has_header("Location")


def test_a_survey_of_another_tank_or_none_is_no_partner(client, owner, pair):
    other = taken_with(make_tank(owner), make_meter(owner))
    assert list(errors(keep(client, pair, other=other.pk))) == ["other"]
    assert list(errors(keep(client, pair, other=pair[0].pk))) == ["other"]
    assert list(errors(keep(client, pair, **{"with": 1}))) == ["with"]


def test_two_surveys_of_one_meter_or_without_common_places_are_refused(client, tank, pair):
    same = taken_with(tank, pair[0].meter)
    assert list(errors(keep(client, [pair[0], same]))) == ["other"]
    far = make_survey(tank, readings=[(1, 1, 1, 50)], meter=pair[1].meter)
    assert "pairs" in errors(keep(client, [pair[0], far]))
    assert not MeterCheck.objects.exists()
