"""What the API refuses by name, what it never tells, and what is sent twice but made once."""

import datetime as dt
import json

import pytest
from django.db import connection
from django.test.client import FakePayload
from django.utils import timezone
from rest_framework.test import APIClient

from apps.common.models import SentRequest
from apps.surveys.models import Survey
from apps.tanks.models import Tank
from tests.api.test_access import NEW, OF_CORAL, of_coral, of_tank
from tests.factories import (
    hang,
    make_acclimation,
    make_coral,
    make_light_change,
    make_tank,
    make_user,
)
from tests.planning.questions import make_layout_plan
from tests.test_every_address import ACCESS, Rows

TANK = {"name": "Cube", "length_cm": 40, "width_cm": 40, "depth_cm": 35}


@pytest.fixture
def client(owner):
    client = APIClient()
    client.force_authenticate(owner)
    return client


# --- Depth ----------------------------------------------------------------------------------
@pytest.mark.parametrize("text", ["[" * 50_000 + "]" * 50_000, '{"a":' * 500 + "1" + "}" * 500])
def test_json_nested_too_deep_is_refused(as_user, owner, text):
    answer = as_user(owner).post("/api/v1/tanks/", text, content_type="application/json")
    assert answer.status_code == 400 and "deep" in answer.json()["detail"]


# --- Unknown names --------------------------------------------------------------------------
@pytest.mark.parametrize("kind", NEW)
def test_an_unknown_field_is_refused_by_its_name(client, tank, kind):
    answer = client.post(of_tank(tank, kind), NEW[kind] | {"lenght": 1}, format="json")
    assert answer.status_code == 400 and "lenght" in answer.data["errors"]


@pytest.mark.parametrize("kind", OF_CORAL)
def test_an_unknown_field_of_a_corals_row_is_refused(client, tank, kind):
    address = of_coral(make_coral(tank), kind)
    answer = client.post(address, OF_CORAL[kind] | {"pumps": 1}, format="json")
    assert answer.status_code == 400 and "pumps" in answer.data["errors"]


def test_an_unknown_field_is_told_beside_what_else_is_wrong(client):
    answer = client.post("/api/v1/tanks/", TANK | {"lenght": 1, "width_cm": "x"}, format="json")
    assert {"lenght", "width_cm"} <= answer.data["errors"].keys()


def test_an_unknown_field_of_a_reading_is_refused(client, tank):
    reading = {"x_cm": 1, "y_cm": 1, "depth_cm": 1, "value_umol": 9, "channel": "blue"}
    body = {"taken_at": "2026-05-01T12:00:00Z", "readings": [reading]}
    answer = client.post(of_tank(tank, "surveys"), body, format="json")
    assert answer.status_code == 400 and not Survey.objects.exists()


def test_an_unknown_field_of_a_hung_row_is_told_at_its_row(client, tank):
    hang(make_light_change(tank))
    body = {"happened_at": f"{tank.today()}T00:00:00Z", "summary": "Lower",
            "hung": [{"number": 1, "heigth_cm": 12}]}  # fmt: skip
    answer = client.post(of_tank(tank, "light-changes"), body, format="json")
    assert answer.status_code == 400 and "heigth_cm" in str(answer.data["errors"]["hung"])


def test_a_row_read_may_be_sent_back_whole(client, tank):
    address = f"/api/v1/tanks/{tank.pk}/"
    assert client.put(address, client.get(address).json(), format="json").status_code == 200


# --- Read-only fields -----------------------------------------------------------------------
# Every address that is written to by PUT, with a read-only field of its row.
ALONE = {"api-fixture-photometry": "told_as", "api-club-pool": "may_count"}
FIXED = {
    name.removesuffix("-detail"): ALONE.get(name, "id")
    for name, cells in ACCESS.items()
    if name.startswith("api-") and cells["owner"].split()[2] in ("200", "400")
}


@pytest.fixture
def row_of(client, tank):
    """Return a function that gives the address of a row of a name, and the row as it is read."""
    rows = Rows(tank)

    def read(name):
        address = rows.address(name if name in ALONE else f"{name}-detail")
        return address, client.get(address).json()

    return read


@pytest.mark.parametrize("name", FIXED)
def test_every_row_read_may_be_sent_back_whole(client, row_of, name):
    address, row = row_of(name)
    answer = client.put(address, row, format="json")
    assert answer.status_code == 200, answer.json()


@pytest.mark.parametrize(("name", "field"), FIXED.items())
def test_no_read_only_field_is_changed_without_a_word(client, row_of, name, field):
    address, row = row_of(name)
    answer = client.put(address, row | {field: "another"}, format="json")
    assert answer.status_code == 400 and list(answer.json()["errors"]) == [field]
    if field == "id":
        patched = client.patch(address, {field: "another"}, format="json")
        assert patched.status_code == 400 and list(patched.json()["errors"]) == [field]


def test_a_comment_is_hidden_and_not_reworded(client, row_of):
    address, row = row_of("api-share-link-comment")
    assert client.patch(address, {"is_hidden": True}, format="json").data["is_hidden"]
    refused = client.patch(address, {"text": "Dark here."}, format="json")
    assert list(refused.json()["errors"]) == ["text"]
    assert client.patch(address, {"text": row["text"]}, format="json").status_code == 200


@pytest.mark.parametrize("kind", NEW)
def test_a_new_row_is_given_no_read_only_field(client, tank, kind):
    answer = client.post(of_tank(tank, kind), NEW[kind] | {"id": 5}, format="json")
    assert answer.status_code == 400 and list(answer.json()["errors"]) == ["id"]


def test_of_many_rows_none_is_given_a_read_only_field(client, tank):
    body = {"rows": [NEW["water-events"], NEW["water-events"] | {"id": 7}]}
    answer = client.post(of_tank(tank, "water-events/bulk"), body, format="json")
    assert answer.status_code == 400 and "id" in str(answer.json()["errors"]["rows"])


def test_what_is_worked_out_of_a_reading_is_left_aside(client, tank):
    reading = {"x_cm": 1, "y_cm": 1, "depth_cm": 1, "value_umol": 9, "par_umol": 900}
    body = {"taken_at": "2026-05-01T12:00:00Z", "readings": [reading]}
    made = client.post(of_tank(tank, "surveys"), body, format="json")
    assert made.data["readings"][0]["par_umol"] == 9


def test_a_moment_may_be_written_in_another_way(client, tank):
    address = f"/api/v1/tanks/{tank.pk}/"
    moment = dt.datetime.fromisoformat(client.get(address).json()["created_at"])
    there = moment.astimezone(dt.timezone(dt.timedelta(hours=2)))
    assert client.patch(address, {"created_at": there.isoformat()}).status_code == 200
    later = there + dt.timedelta(seconds=1)
    assert client.patch(address, {"created_at": later.isoformat()}).status_code == 400


def test_a_name_no_answer_can_be_written_with_is_refused(as_user, owner):
    text = json.dumps(TANK)[:-1] + ', "\\ud800": 1}'
    answer = as_user(owner).post("/api/v1/tanks/", text, content_type="application/json")
    assert answer.status_code == 400 and not Tank.objects.exists()


@pytest.mark.parametrize("kind", [*NEW, "acclimations", "trials"])
def test_an_unknown_filter_is_refused_by_its_name(client, tank, kind):
    answer = client.get(of_tank(tank, kind), {"taken": "2026-01-01"})
    assert answer.status_code == 400 and "taken" in answer.data["errors"]


def test_pages_of_a_list_are_no_filter(client, tank):
    assert client.get(of_tank(tank, "corals"), {"page": 1}).status_code == 200


# --- Strangers' rows ------------------------------------------------------------------------
def test_a_filter_does_not_tell_which_tanks_exist(client):
    theirs = make_tank(make_user())
    make_layout_plan(theirs.owner, theirs)
    answers = [client.get("/api/v1/plans/", {"tank": pk}) for pk in (theirs.pk, theirs.pk + 999)]
    assert [(a.status_code, a.json()["count"]) for a in answers] == [(200, 0)] * 2


def test_a_filter_does_not_tell_which_corals_exist(client, tank):
    theirs = make_acclimation(make_coral(make_tank(make_user()))).coral
    address = of_tank(tank, "acclimations")
    answers = [client.get(address, {"coral": pk}) for pk in (theirs.pk, theirs.pk + 999)]
    assert [(a.status_code, a.json()["count"]) for a in answers] == [(200, 0)] * 2


# --- The clock at the tank ------------------------------------------------------------------
@pytest.fixture
def new_york(tank):
    tank.time_zone = "America/New_York"
    tank.save()
    return tank


def test_a_time_without_an_offset_is_the_tanks(client, new_york):
    body = {"taken_at": "2026-05-01T20:00:00"}
    answer = client.post(of_tank(new_york, "surveys"), body, format="json")
    assert answer.status_code == 201
    assert Survey.objects.get().taken_at.isoformat() == "2026-05-02T00:00:00+00:00"


@pytest.mark.parametrize("at", ["2025-11-02T01:30:00", "2025-03-09T02:30:00"])
def test_a_time_the_tank_had_twice_or_never_is_asked_about(client, new_york, at):
    answer = client.post(of_tank(new_york, "surveys"), {"taken_at": at}, format="json")
    assert answer.status_code == 400 and "clocks went" in answer.data["errors"]["taken_at"][0]


def test_an_offset_tells_the_doubled_hour_apart(client, new_york):
    for offset in ("-04:00", "-05:00"):
        body = {"taken_at": f"2025-11-02T01:30:00{offset}"}
        assert client.post(of_tank(new_york, "surveys"), body, format="json").status_code == 201
    hours = sorted(survey.taken_at.hour for survey in Survey.objects.all())
    assert hours == [5, 6]


def test_a_filter_without_an_offset_is_the_tanks_clock(client, new_york):
    client.post(of_tank(new_york, "surveys"), {"taken_at": "2026-05-01T20:00:00"}, format="json")
    for start, count in (("2026-05-01T19:59", 1), ("2026-05-01T20:01", 0)):
        answer = client.get(of_tank(new_york, "surveys"), {"taken_at__gte": start})
        assert answer.json()["count"] == count


# --- Sent twice -----------------------------------------------------------------------------
def sent(client, key, body=TANK, address="/api/v1/tanks/"):
    return client.post(address, body, format="json", headers={"Idempotency-Key": key})


def test_the_same_key_makes_one_row_and_gives_one_answer(client):
    first, again = sent(client, "k1"), sent(client, "k1")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json() and Tank.objects.count() == 1
    assert again.headers["Idempotency-Replayed"] == "true"


class SlowLine(FakePayload):
    """A body that notes at each read how deep in transactions the reader is."""

    def read(self, *args, **kwargs):
        self.depths = [*getattr(self, "depths", []), len(connection.savepoint_ids)]
        return super().read(*args, **kwargs)


@pytest.mark.parametrize("method", ["POST", "PATCH", "PUT"])
def test_a_body_is_read_before_anything_is_locked(client, tank, method):
    """SQLite lets one write at a time: a slow line would keep everybody else from saving."""
    content, begun = json.dumps(TANK).encode(), len(connection.savepoint_ids)
    line = SlowLine(content)
    address = "/api/v1/tanks/" if method == "POST" else f"/api/v1/tanks/{tank.pk}/"
    extra = {"wsgi.input": line, "HTTP_IDEMPOTENCY_KEY": "k1"}
    answer = client.generic(method, address, content, "application/json", **extra)
    assert answer.status_code in (200, 201), answer.content
    assert line.depths and set(line.depths) == {begun}


def test_the_same_key_with_other_content_is_refused(client):
    sent(client, "k1")
    assert sent(client, "k1", TANK | {"name": "Other"}).status_code == 422
    assert Tank.objects.count() == 1


def test_another_key_makes_another_row(client):
    sent(client, "k1"), sent(client, "k2")
    assert Tank.objects.count() == 2


def test_what_was_refused_may_be_sent_again_mended(client):
    assert sent(client, "k1", TANK | {"length_cm": "x"}).status_code == 400
    assert sent(client, "k1").status_code == 201


def test_a_key_is_its_keepers_own(client):
    sent(client, "k1")
    other = APIClient()
    other.force_authenticate(make_user())
    assert sent(other, "k1").status_code == 201 and Tank.objects.count() == 2


@pytest.mark.parametrize("key", ["", "x" * 201, "smörgås"])
def test_a_key_that_is_none_is_refused(client, key):
    answer = client.post("/api/v1/tanks/", TANK, format="json", HTTP_IDEMPOTENCY_KEY=key)
    assert answer.status_code == 400 and not Tank.objects.exists()


@pytest.mark.parametrize("kind", NEW)
def test_every_row_of_a_tank_takes_a_key(client, tank, kind):
    answers = [sent(client, "k1", NEW[kind], of_tank(tank, kind)) for _ in range(2)]
    assert [a.status_code for a in answers] == [201, 201]
    assert answers[0].json()["id"] == answers[1].json()["id"]


def test_old_keys_are_forgotten(client):
    sent(client, "k1")
    SentRequest.objects.update(sent_at=timezone.now() - dt.timedelta(days=8))
    sent(client, "k2")
    assert SentRequest.objects.count() == 1


def test_the_schema_tells_of_the_key(client):
    post = client.get("/api/v1/schema/").json()["paths"]["/api/v1/tanks/"]["post"]
    assert "Idempotency-Key" in [parameter["name"] for parameter in post["parameters"]]
