"""The notes round: who may open it, what a device gets, and what becomes of what it sends."""

import datetime as dt
import json
import uuid

import pytest
from django.db import connection
from django.urls import reverse

from apps.corals.models import HealthNote, Photo
from apps.corals.notes.round_taking import notes_by_mark
from tests.corals.pictures import encoded, sent
from tests.factories import make_coral, make_note, make_tank


@pytest.fixture
def coral(tank):
    return make_coral(tank)


def note_of(coral, **changed):
    fields = {
        "id": str(uuid.uuid4()), "coral": coral.pk, "noted_on": coral.tank.today().isoformat(),
        "condition": 3, "seen": "paling", "where": "tips", "text": "since Monday", "photo": None,
        "edition": 1, "knows": 0,
    }  # fmt: skip
    return fields | changed


def send(client, tank, keeper, notes, **files):
    data = {"keeper": keeper.pk, "notes": json.dumps(notes)}
    return client.post(reverse("round_sync", args=[tank.pk]), data | files)


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_open_a_round_and_send_notes(request, as_user, tank, coral, who, status):
    user = request.getfixturevalue(who)
    client = as_user(user)
    assert client.get(reverse("coral_round", args=[tank.pk])).status_code == status
    assert send(client, tank, user, [note_of(coral)]).status_code == status
    assert HealthNote.objects.count() == (status == 200)


def test_visitor_is_told_and_not_led_away(client, tank, coral, owner):
    assert send(client, tank, owner, [note_of(coral)]).status_code == 401


def test_notes_of_another_keeper_wait(as_user, owner, co_keeper, tank, coral):
    assert send(as_user(owner), tank, co_keeper, [note_of(coral)]).status_code == 409
    assert not HealthNote.objects.exists()


def test_note_is_stored_whole_and_once(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    for _ in range(2):
        answer = send(client, tank, owner, [note]).json()
        assert answer["accepted"] == [note["id"]] and answer["refused"] == answer["told"] == {}
    row = HealthNote.objects.get()
    assert (row.condition, row.seen, row.strength, row.where) == (3, "paling", 2, "tips")
    assert row.created_by == owner and str(row.client_id) == note["id"]


def test_note_sent_anew_is_changed(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    send(client, tank, owner, [note | {"condition": 2, "seen": "bleaching", "edition": 2}])
    row = HealthNote.objects.get()
    assert (row.condition, row.seen, row.strength) == (2, "bleaching", 3)


def test_further_signs_are_kept_and_may_be_missing(as_user, owner, tank, coral):
    client, notes = as_user(owner), [note_of(coral, also_seen=["growth"]), note_of(coral)]
    send(client, tank, owner, notes)
    assert sorted(n.also_seen for n in HealthNote.objects.all()) == [[], ["growth"]]


def test_photo_comes_with_its_note_once(as_user, owner, tank, coral):
    client, key = as_user(owner), str(uuid.uuid4())
    note = note_of(coral, photo=key)
    for _ in range(2):
        send(client, tank, owner, [note], **{key: sent(encoded())})
    assert str(Photo.objects.get().key) == key


def test_bad_photo_refuses_its_note_alone(as_user, owner, tank, coral):
    key, good = str(uuid.uuid4()), note_of(coral)
    bad = note_of(coral, photo=key)
    files = {key: sent(b"no picture")}
    answer = send(as_user(owner), tank, owner, [bad, good], **files).json()
    assert answer["accepted"] == [good["id"]]
    assert list(answer["refused"]) == [bad["id"]] and "photo" in answer["refused"][bad["id"]]
    assert HealthNote.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"condition": 7}, "not a valid choice"),
        ({"seen": "weather"}, "not a valid choice"),
        ({"also_seen": ["weather"]}, "a list of what can be seen"),
        ({"condition": 2, "seen": ""}, "look well and be bad"),
        ({"noted_on": "2001-01-01"}, "It came on"),
        ({"text": "x" * 2001}, "at most 2000"),
        ({"coral": 0}, "no longer in this tank"),
    ],
)
def test_unsound_note_is_refused_with_its_reason(as_user, owner, tank, coral, changed, said):
    note = note_of(coral) | changed
    answer = send(as_user(owner), tank, owner, [note]).json()
    assert said in answer["refused"][note["id"]] and not HealthNote.objects.exists()


def test_coral_or_mark_of_another_tank_is_refused(as_user, owner, tank, coral):
    foreign = make_coral(make_tank())
    theirs = make_note(foreign, client_id=uuid.uuid4())
    notes = [note_of(foreign), note_of(coral, id=str(theirs.client_id))]
    answer = send(as_user(owner), tank, owner, notes).json()
    assert len(answer["refused"]) == 2 and HealthNote.objects.count() == 1


def test_clock_that_runs_ahead_means_today(as_user, owner, tank, coral):
    ahead = (tank.today() + dt.timedelta(days=1)).isoformat()
    send(as_user(owner), tank, owner, [note_of(coral, noted_on=ahead)])
    assert HealthNote.objects.get().noted_on == tank.today()


@pytest.mark.parametrize(
    "notes",
    [
        *("", "{", "3", "[3]", '[{"id": "x"}]', '[{"coral": true}]', "[" * 5000),
        *('[{"coral": 1, "also_seen": "growth"}]', '[{"coral": 1, "also_seen": [3]}]'),
    ],
)
def test_what_is_no_list_of_notes_is_a_bad_request(as_user, owner, tank, notes):
    data = {"keeper": owner.pk, "notes": notes}
    url = reverse("round_sync", args=[tank.pk])
    assert as_user(owner).post(url, data).status_code == 400


def test_round_goes_from_left_to_right_and_skips_the_gone(as_user, owner, tank):
    make_coral(tank, name="Unplaced", at_cm=None)
    make_coral(tank, name="Right", at_cm=(50, 30, 25))
    left = make_coral(tank, name="Left", at_cm=(5, 30, 25))
    make_coral(tank, name="Gone", gone_on=tank.today())
    make_note(left, condition=4, seen="paling")
    stated = as_user(owner).get(reverse("coral_round", args=[tank.pk])).context["round"]
    assert [c["name"] for c in stated["corals"]] == ["Left", "Right", "Unplaced"]
    assert stated["corals"][0]["condition"] == 4


def test_shell_is_open_and_names_nobody(as_user, owner, client):
    for visitor in (client, as_user(owner)):
        page = visitor.get(reverse("round_shell"))
        assert page.status_code == 200 and "Ottilie" not in page.content.decode()
        assert 'id="round-data"' not in page.content.decode()


@pytest.mark.parametrize("text", ["half a sign \ud800", "nothing \0"])
def test_text_no_database_takes_is_refused_with_a_word(as_user, owner, tank, coral, text):
    answer = send(as_user(owner), tank, owner, [note_of(coral, text=text)])
    assert answer.status_code == 400 and "texts" in answer.json()["problem"]


@pytest.mark.django_db
def test_asking_for_notes_by_mark_reads_an_index():
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            # Of a near empty table PostgreSQL would rather read all.
            cursor.execute("SET LOCAL enable_seqscan = off")
    plan = notes_by_mark([uuid.uuid4(), uuid.uuid4()]).explain().lower()
    assert "client_id" in plan and "index" in plan and "seq scan" not in plan
