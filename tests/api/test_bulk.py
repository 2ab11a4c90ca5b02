"""Many notes or water readings in one request: all or none, once, and for those who may write."""

import datetime as dt

import pytest
from django.urls import reverse
from knox.models import AuthToken

from apps.api.models import TokenCard
from apps.corals.models import HealthNote, WaterEvent
from tests.factories import make_coral, make_tank

WATER = [
    {"happened_at": f"2026-01-0{day}T08:00:00Z", "kind": "alkalinity", "value": 8.0, "unit": "dkh"}
    for day in (1, 2, 3)
]
NOTES = [{"noted_on": f"2026-01-0{day}", "seen": "well", "text": f"Day {day}"} for day in (1, 2, 3)]


def post(client, address, rows, **headers):
    return client.post(address, {"rows": rows}, content_type="application/json", headers=headers)


@pytest.fixture
def coral(tank):
    return make_coral(tank, since=dt.date(2025, 12, 1))


@pytest.fixture
def places(tank, coral):
    """Return {what: (address, rows, model)} of what may come in bulk."""
    notes = reverse("api-note-bulk", args=[tank.pk, coral.pk])
    water = reverse("api-water-event-bulk", args=[tank.pk])
    return {"notes": (notes, NOTES, HealthNote), "water": (water, WATER, WaterEvent)}


@pytest.fixture(params=["notes", "water"])
def place(request, places):
    return places[request.param]


def test_all_rows_are_made_in_their_order(as_user, owner, place):
    address, rows, model = place
    answer = post(as_user(owner), address, rows)
    assert answer.status_code == 201, answer.json()
    made = answer.json()["rows"]
    assert [row["id"] for row in made] == sorted(model.objects.values_list("pk", flat=True))
    name = next(iter(rows[0]))
    assert [row[name][:10] for row in made] == [row[name][:10] for row in rows]
    assert {row.created_by for row in model.objects.all()} == {owner}


@pytest.mark.parametrize("wrong", [{"seen": "sad", "kind": "tea"}, {"happy": True}])
def test_one_wrong_row_keeps_all_out_and_is_named(as_user, owner, place, wrong):
    address, rows, model = place
    answer = post(as_user(owner), address, [rows[0], rows[1] | wrong, rows[2]])
    assert answer.status_code == 400 and not model.objects.exists()
    assert [name for name in answer.json()["errors"] if name.startswith("rows")]
    assert next(iter(wrong)) in answer.content.decode()


@pytest.mark.parametrize("rows", [[], "three", None])
def test_what_is_no_list_of_rows_is_refused(as_user, owner, place, rows):
    address, _, model = place
    assert post(as_user(owner), address, rows).status_code == 400 and not model.objects.exists()


def test_too_many_rows_are_refused(as_user, owner, place):
    address, rows, model = place
    answer = post(as_user(owner), address, rows[:1] * 501)
    assert answer.status_code == 400 and not model.objects.exists()


def test_sent_again_with_its_key_it_makes_no_second_set(as_user, owner, place):
    address, rows, model = place
    first, again = (post(as_user(owner), address, rows, idempotency_key="k1") for _ in range(2))
    assert first.json() == again.json() and model.objects.count() == 3
    other = post(as_user(owner), address, rows[:1], idempotency_key="k1")
    assert other.status_code == 422 and model.objects.count() == 3


@pytest.mark.parametrize(
    ("who", "status"), [("co_keeper", 201), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_write_many(request, as_user, place, who, status):
    address, rows, model = place
    answer = post(as_user(request.getfixturevalue(who)), address, rows)
    assert answer.status_code == status and model.objects.exists() == (status == 201)


def test_a_token_to_read_writes_none(client, owner, place):
    instance, token = AuthToken.objects.create(owner)
    TokenCard.objects.create(token=instance, name="reader", scope="read")
    answer = post(client, place[0], place[1], authorization=f"Bearer {token}")
    assert answer.status_code == 403 and not place[2].objects.exists()


def test_a_coral_of_another_tank_is_not_found(as_user, owner, tank):
    foreign = make_coral(make_tank())
    address = reverse("api-note-bulk", args=[tank.pk, foreign.pk])
    assert post(as_user(owner), address, NOTES).status_code == 404
