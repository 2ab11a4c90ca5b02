"""The protocol devices send their readings by: once each, newest of each point, all in history."""

import itertools
import json
import uuid

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.entry import syncing
from apps.surveys.models import PlannedPoint, Reading, ReadingEdit
from apps.surveys.recording import ReadingRow, rows_of, save_readings, undo_last_save
from tests.benchmarks.bench_queue import run_all
from tests.factories import make_survey, make_tank, make_user
from tests.paths import ROOT

POINT = uuid.UUID(int=7)


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


class Device:
    """A phone that numbers its edits; it may send them again or out of order."""

    def __init__(self, name="phone"):
        self.name, self.count = name, itertools.count(1)

    def edit(self, value, *, point=None, revision=1, **more):
        place = {"x_cm": 10, "y_cm": 20, "depth_cm": 5, "spread_umol": None}
        return {
            "id": str(uuid.uuid4()), "point": str(point or uuid.uuid4()), "value_umol": value,
            "sequence": next(self.count), "revision": revision, **place, **more,
        }  # fmt: skip

    def taken_back(self, point, *, revision):
        return self.edit(None, point=point, revision=revision, removed=True)

    def send(self, client, survey, edits, *, keeper=None, **more):
        keeper = keeper or survey.tank.owner
        body = {"keeper": keeper.pk, "device": self.name, "edits": edits} | more
        url = reverse("survey_sync", args=[survey.pk])
        return client.post(url, json.dumps(body), content_type="application/json")


@pytest.fixture
def phone():
    return Device()


@pytest.mark.parametrize("name", ["half a sign \ud800", "nothing \0", "", "x" * 40])
def test_device_of_no_sound_name_is_refused(as_user, owner, survey, name):
    device = Device(name)
    assert device.send(as_user(owner), survey, [device.edit(100)]).status_code == 400


def values(survey):
    return [row.value_umol for row in rows_of(survey)]


def test_edits_become_readings_in_their_order(as_user, owner, survey, phone):
    edits = [phone.edit(v) for v in (3, 1, 2)]
    answer = phone.send(as_user(owner), survey, edits[::-1]).json()
    assert values(survey) == [3, 1, 2]
    assert set(answer["accepted"]) == {e["id"] for e in edits} and answer["saved"] == 3


def test_sent_again_is_accepted_and_stored_once(as_user, owner, survey, phone):
    edits = [phone.edit(v) for v in (1, 2)]
    client = as_user(owner)
    first, again = (phone.send(client, survey, edits).json() for _ in range(2))
    assert sorted(first["accepted"]) == sorted(again["accepted"])
    assert values(survey) == [1, 2] and survey.edits.count() == 2
    survey.refresh_from_db()
    assert survey.version == 1


def test_the_same_edit_twice_in_one_batch_counts_once(as_user, owner, survey, phone):
    edit = phone.edit(5)
    phone.send(as_user(owner), survey, [edit, edit])
    assert values(survey) == [5] and survey.edits.count() == 1


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_the_newest_of_a_point_stands_in_whatever_order_they_arrive(as_user, owner, survey, order):
    one, two = Device("one"), Device("two")
    sent = [
        (one, one.edit(10, point=POINT, revision=1)),
        (two, two.edit(20, point=POINT, revision=1)),
        (one, one.edit(30, point=POINT, revision=2)),
    ]
    for i in order:
        device, edit = sent[i]
        device.send(as_user(owner), survey, [edit])
    assert values(survey) == [30]
    assert sorted(e.row["value_umol"] for e in survey.edits.all()) == [10, 20, 30]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_a_tie_goes_the_same_way_in_either_order(as_user, owner, survey, order):
    devices = Device("one"), Device("two")
    for i in order:
        edit = devices[i].edit(i + 1, point=POINT)
        devices[i].send(as_user(owner), survey, [edit])
    assert values(survey) == [2]


def test_taken_back_is_not_revived_by_what_came_before(as_user, owner, survey, phone):
    client = as_user(owner)
    kept = phone.edit(10, point=POINT, revision=1)
    phone.send(client, survey, [phone.taken_back(POINT, revision=2)])
    phone.send(client, survey, [kept])
    assert values(survey) == [] and survey.edits.count() == 2
    phone.send(client, survey, [phone.edit(11, point=POINT, revision=3)])
    assert values(survey) == [11]


def test_the_state_tells_of_points_taken_back(as_user, owner, survey, phone):
    edits = [phone.edit(10, point=POINT), phone.taken_back(POINT, revision=2)]
    state = phone.send(as_user(owner), survey, edits).json()["points"]
    taken_back = {"point": str(POINT), "revision": 2, "device": "phone", "removed": True}
    assert state == [taken_back]


def test_a_change_in_the_table_counts_as_a_revision(as_user, owner, survey, phone):
    client = as_user(owner)
    phone.send(client, survey, [phone.edit(10, point=POINT, revision=4)])
    row = ReadingRow(x_cm=1, y_cm=1, depth_cm=1, value_umol=99, client_id=POINT)
    save_readings(survey=survey, rows=[row], expected_version=1, by=owner)
    late = phone.edit(50, point=POINT, revision=4)
    state = phone.send(client, survey, [late]).json()["points"]
    assert values(survey) == [99] and state[0]["revision"] == 5


def test_undo_of_a_save_also_counts_and_brings_back_what_stood_before_the_phone(
    as_user, owner, survey, phone
):
    row = ReadingRow(x_cm=1, y_cm=1, depth_cm=1, value_umol=99, client_id=POINT)
    save_readings(survey=survey, rows=[row], expected_version=0, by=owner)
    client = as_user(owner)
    for value in (10, 20):
        phone.send(client, survey, [phone.edit(value, point=POINT, revision=value)])
    undo_last_save(survey=survey, by=owner)
    assert values(survey) == [99]
    assert survey.readings.get().revision == 21


def test_a_run_of_one_device_keeps_one_earlier_state(as_user, owner, survey, phone):
    client = as_user(owner)
    for value in (1, 2, 3):
        phone.send(client, survey, [phone.edit(value)])
    other = Device("other")
    other.send(client, survey, [other.edit(4)])
    assert [(r.device, len(r.rows)) for r in survey.revisions.all()] == [("phone", 0), ("other", 3)]


def test_a_reading_of_a_planned_point_carries_its_id(as_user, owner, survey, phone):
    planned = PlannedPoint.objects.create(survey=survey, number=1, x_cm=1, y_cm=1, depth_cm=1)
    phone.send(as_user(owner), survey, [phone.edit(5, point=planned.client_id)])
    assert survey.readings.get().client_id == planned.client_id


def test_a_bad_reading_is_refused_by_name_and_the_rest_taken(as_user, owner, survey, phone):
    good, bad = phone.edit(5), phone.edit(5, x_cm=999)
    answer = phone.send(as_user(owner), survey, [good, bad]).json()
    assert answer["accepted"] == [good["id"]] and values(survey) == [5]
    assert "Outside the water" in answer["refused"][bad["id"]]


def test_marks_of_another_survey_are_refused(as_user, owner, survey, phone):
    other = make_survey(make_tank(), readings=[(1, 1, 1, 1)])
    theirs = phone.edit(5, point=other.readings.get().client_id)
    planned = PlannedPoint.objects.create(survey=other, number=1, x_cm=1, y_cm=1, depth_cm=1)
    edits = [theirs, phone.edit(5, point=planned.client_id)]
    ReadingEdit.objects.create(
        survey=other, client_id=uuid.UUID(int=9), point=POINT, device="x", sequence=1, revision=1
    )
    edits.append(phone.edit(6) | {"id": str(uuid.UUID(int=9))})
    answer = phone.send(as_user(owner), survey, edits).json()
    assert len(answer["refused"]) == 3 and values(survey) == []


def test_a_full_survey_refuses_one_more_and_says_so(as_user, owner, survey, phone):
    client = as_user(owner)
    edits = [phone.edit(5) for _ in range(SURVEY_READINGS_MAX + 1)]
    refused = {}
    for start in range(0, len(edits), syncing.EDITS_A_BATCH):
        batch = edits[start : start + syncing.EDITS_A_BATCH]
        refused |= phone.send(client, survey, batch).json()["refused"]
    assert list(refused) == [edits[-1]["id"]] and "at most" in refused[edits[-1]["id"]]
    assert survey.readings.count() == SURVEY_READINGS_MAX


def test_a_failure_in_the_middle_writes_nothing(as_user, owner, survey, phone, monkeypatch):
    edits = [phone.edit(1), phone.edit(2)]
    client = as_user(owner)
    client.raise_request_exception = False
    with monkeypatch.context() as broken:
        broken.setattr(syncing, "write_rows", lambda rows: 1 / 0)
        assert phone.send(client, survey, edits).status_code == 500
    assert values(survey) == [] and survey.edits.count() == 0 and survey.revisions.count() == 0
    phone.send(client, survey, edits)
    assert values(survey) == [1, 2]


def test_queries_do_not_grow_with_the_batch(
    as_user, owner, survey, phone, django_assert_max_num_queries
):
    client = as_user(owner)
    with django_assert_max_num_queries(28):
        phone.send(client, survey, [phone.edit(v) for v in range(300)])


def test_signed_out_is_told_so_and_nothing_is_written(survey, phone):
    response = phone.send(Client(), survey, [phone.edit(5)])
    assert response.status_code == 401 and values(survey) == []


def test_another_keepers_queue_is_not_taken_under_this_name(as_user, co_keeper, survey, phone):
    response = phone.send(as_user(co_keeper), survey, [phone.edit(5)])
    assert response.status_code == 409 and values(survey) == []


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_send(request, as_user, survey, phone, who, status):
    user = request.getfixturevalue(who)
    response = phone.send(as_user(user), survey, [phone.edit(5)], keeper=user)
    assert response.status_code == status
    assert values(survey) == ([5] if status == 200 else [])


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_open_the_page(request, as_user, survey, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.get(reverse("survey_enter", args=[survey.pk])).status_code == status


def test_the_shell_is_the_same_for_all_and_names_nobody(as_user, owner, client, survey):
    def neutral(page):
        text = page.content.decode()
        return [
            line for line in text.splitlines() if "nonce" not in line and "csrf" not in line.lower()
        ]

    url = reverse("entry_shell")
    theirs, anyones = as_user(owner).get(url), client.get(url)
    assert neutral(theirs) == neutral(anyones)
    assert "Ottilie" not in theirs.content.decode() and 'id="entry-data"' not in str(theirs.content)


def test_the_worker_changes_when_a_kept_file_does(client, monkeypatch):
    from reeflog import offline_views

    before = client.get(reverse("service_worker")).content
    assert client.get(reverse("service_worker")).content == before
    monkeypatch.setattr(offline_views, "FILES", offline_views.FILES[:-1])
    assert client.get(reverse("service_worker")).content != before


def test_the_worker_keeps_every_module_the_page_imports():
    """A module left out would stop the page exactly when there is no network."""
    import re

    from reeflog.offline_views import FILES

    static = ROOT / "static"
    pages = ["js/surveys/entry/survey_enter.js", "js/corals/notes/coral_round.js"]
    seen, todo = set(), ["js/page.js", *pages]
    while todo:
        name = todo.pop()
        seen.add(name)
        here = (static / name).parent
        for path in re.findall(r'from "(\.[^"]+)"', (static / name).read_text()):
            module = str((here / path).resolve().relative_to(static))
            if module not in seen:
                todo.append(module)
    assert seen == {name for name in FILES if name.startswith("js/")}


def test_the_manifest_starts_at_the_shell(client):
    shown = client.get(reverse("manifest")).json()
    assert shown["start_url"] == reverse("entry_shell") and shown["display"] == "standalone"
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in shown["icons"]}


def test_no_cut_kill_or_crash_loses_or_doubles_an_edit(db):
    """A few of the afternoons that `make soak` plays by hundreds."""
    counts = run_all(runs=10)
    assert (counts["lost"], counts["doubled"], counts["wrong"]) == (0, 0, 0)
    assert counts["edits"] > 100 and counts["killed"] and counts["crashed"] and counts["unheard"]


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["edits", "device", "id", "point"]) | st.text(), inner)
    ),
    max_leaves=12,
)
PART = st.dictionaries(
    st.sampled_from(
        ["id", "point", "sequence", "revision", "x_cm", "y_cm", "depth_cm", "value_umol",
         "spread_umol", "burst", "removed"]
    ),
    JSON,
)  # fmt: skip


class AnythingSent(TestCase):
    def setUp(self):
        self.survey = make_survey(make_tank(make_user()), readings=[])
        self.sender = Client()
        self.sender.force_login(self.survey.tank.owner)

    @settings(max_examples=60, deadline=None)
    @given(sent=JSON, part=PART)
    def test_is_answered_and_never_a_fault(self, sent, part):
        device = Device()
        sound = device.edit(5)
        for body in (
            sent,
            {"device": "d", "keeper": self.survey.tank.owner_id, "edits": [sound | part]},
        ):
            url = reverse("survey_sync", args=[self.survey.pk])
            response = self.sender.post(url, json.dumps(body), content_type="application/json")
            assert response.status_code in (200, 400, 409)


@pytest.mark.parametrize("model", [Reading, ReadingEdit, PlannedPoint])
def test_asking_for_marks_reads_an_index_and_sorts_nothing(survey, model):
    """The queue asks over all keepers' rows: without an index each post scans them all."""
    rows = [Reading(survey=survey, position=n, x_cm=1, y_cm=1, depth_cm=1, value_umol=9)
            for n in range(3000)]  # fmt: skip
    Reading.objects.bulk_create(rows)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
        if connection.vendor == "postgresql":
            # Of a near empty table PostgreSQL would rather read all.
            cursor.execute("SET LOCAL enable_seqscan = off")
    plan = syncing.by_mark(model, [POINT, uuid.uuid4()]).explain().lower()
    assert "client_id" in plan and "index" in plan
    assert not any(word in plan for word in ("seq scan", "temp b-tree", "sort"))
