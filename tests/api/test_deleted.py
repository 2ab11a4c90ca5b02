"""Recently deleted by the API: what waits there, who may see it, and bringing it back."""

import pytest
from django.urls import reverse

from apps.tanks.deleted import DELETED_KEPT_DAYS
from tests.api.test_owning import at
from tests.api.test_steps import by_person, errors
from tests.api.test_steps import program as api
from tests.factories import make_coral, make_meter, make_note, make_rock, make_survey, make_tank
from tests.sharing.test_link_api import program
from tests.tanks.test_deleted import age

OWN = "/api/v1/deleted/"


@pytest.fixture
def client(owner):
    return api(owner)


@pytest.fixture
def note(tank):
    note = make_note(make_coral(tank, name="Red plate"), text="Tips pale")
    note.remove()
    return note


def restore(client, kind, row):
    return client.post(f"{OWN}{kind}/{row.pk}/restore/")


def is_back(row):
    row.refresh_from_db()
    return row.removed_at is None


@pytest.mark.parametrize(("who", "status"), by_person(200, 200, 403, 404))
def test_who_may_change_a_tank_sees_what_was_deleted(request, tank, note, who, status):
    answer = api(request.getfixturevalue(who)).get(at(tank, "deleted"))
    assert answer.status_code == status
    if status == 200:
        [row] = answer.json()["results"]
        assert (row["kind"], row["id"], row["tank"]) == ("note", note.pk, tank.pk)


@pytest.mark.parametrize(("who", "status"), by_person(200, 200, 403, 404))
def test_who_may_change_a_tank_restores_it(request, note, who, status):
    assert restore(api(request.getfixturevalue(who)), "note", note).status_code == status
    assert is_back(note) == (status == 200)


def test_the_list_says_what_the_page_says(as_user, client, owner, tank, note):
    rock = make_rock(tank, name="Arch")
    rock.remove()
    age(note, 2)
    listed = client.get(at(tank, "deleted")).json()
    page = as_user(owner).get(reverse("tank_deleted", args=[tank.pk])).context["deleted"]
    assert [row["id"] for row in listed["results"]] == [rock.pk, note.pk]
    assert [row["words"] for row in listed["results"]] == [it.words for it in page]
    assert listed["more"] == 0


def test_what_waited_too_long_is_listed_no_more(client, tank, note):
    age(note, DELETED_KEPT_DAYS - 1)
    assert len(client.get(at(tank, "deleted")).data["results"]) == 1
    age(note, DELETED_KEPT_DAYS + 1)
    assert client.get(at(tank, "deleted")).data["results"] == []


def test_a_keepers_own_things_wait_apart(client, co_keeper, owner, tank):
    meter = make_meter(owner)
    for row in (meter, tank):
        row.remove()
    rows = client.get(OWN).json()["results"]
    assert [(row["kind"], row["id"], row["tank"]) for row in rows] == [
        ("tank", tank.pk, None),
        ("meter", meter.pk, None),
    ]
    assert api(co_keeper).get(OWN).data["results"] == []
    assert restore(api(co_keeper), "tank", tank).status_code == 404
    assert restore(client, "tank", tank).status_code == 200 and is_back(tank)
    assert restore(client, "meter", meter).data["kind"] == "meter" and is_back(meter)


def test_restoring_again_changes_nothing(client, note):
    assert restore(client, "note", note).json() == restore(client, "note", note).json()
    assert is_back(note)


def test_what_lies_within_a_deleted_row_waits_for_it(client, tank, note):
    note.coral.remove()
    assert errors(restore(client, "note", note)) == ["non_field_errors"] and not is_back(note)
    assert [row["kind"] for row in client.get(at(tank, "deleted")).data["results"]] == ["coral"]
    assert restore(client, "coral", note.coral).status_code == 200
    assert restore(client, "note", note).status_code == 200 and is_back(note)


def test_what_fits_no_more_is_refused_as_on_the_page(as_user, client, owner, tank):
    rock = make_rock(tank)
    rock.remove()
    tank.length_cm = 20
    tank.save()
    assert errors(restore(client, "rock", rock)) and not is_back(rock)
    as_user(owner).post(reverse("deleted_restore", args=["rock", rock.pk]))
    assert not is_back(rock)


def test_neither_another_kind_nor_anothers_row_is_restored(client, note):
    theirs = make_survey(make_tank())
    theirs.remove()
    assert restore(client, "survey", theirs).status_code == 404
    answers = [restore(client, kind, note).status_code for kind in ("trial", "nothing")]
    assert answers == [404, 404]
    assert not is_back(note) and not is_back(theirs)


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 403), ("write", 200)])
def test_a_token_to_write_restores(owner, tank, note, scope, status):
    client = program(owner, scope)
    assert client.get(at(tank, "deleted")).status_code == 200
    assert restore(client, "note", note).status_code == status


def test_an_unknown_filter_is_refused(client, tank):
    for address in (OWN, at(tank, "deleted")):
        assert errors(client.get(address, {"kind": "note"})) == ["kind"]
