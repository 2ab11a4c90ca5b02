"""Clubs by the API: a meter goes from hand to hand as on its page, by the same rights."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from apps.clubs.models import Block, Club
from apps.surveys.models import Meter, MeterLoan
from tests.factories import make_club, make_club_meter, make_meter_check, make_survey, make_user

TODAY = timezone.localdate


def program(user):
    client = APIClient()
    client.force_authenticate(user)
    return client


@pytest.fixture
def officer(db):
    return make_user(display_name="Olga")


@pytest.fixture
def members(db):
    return [make_user(display_name=name) for name in ("Mara", "Milo", "Mina")]


@pytest.fixture
def club(officer, members):
    return make_club(officer, *members)


@pytest.fixture
def meter(club):
    return make_club_meter(club)


def at(meter, act=""):
    return f"/api/v1/clubs/{meter.club_id}/meters/{meter.pk}/{act and f'{act}/'}"


def do(user, meter, act, **said):
    return program(user).post(at(meter, act), said, format="json")


def names(turns):
    return [turn["keeper"]["name"] for turn in turns]


# --- Lending --------------------------------------------------------------------------------
def test_a_meter_goes_round(officer, members, meter):
    first, second, third = members
    do(first, meter, "ask")
    do(second, meter, "ask")
    handed = do(first, meter, "hand-over", to=first.pk).data["lending"]
    assert handed["held"]["keeper"] == {"id": first.pk, "name": "Mara"}
    assert handed["held"]["since"] == str(TODAY()) and names(handed["waiting"]) == ["Milo"]
    # Who is next takes it on, and so do officers.
    passed = do(second, meter, "hand-over", to=second.pk).data["lending"]
    assert names([passed["held"]]) == ["Milo"] and names(passed["over"]) == ["Mara"]
    assert do(officer, meter, "hand-over", to=third.pk).status_code == 200
    back = do(third, meter, "back").data["lending"]
    assert back["held"] is None and names(back["over"]) == ["Mina", "Milo", "Mara"]


def test_the_same_again_changes_nothing(members, meter):
    first = members[0]
    assert do(first, meter, "ask").data == do(first, meter, "ask").data
    assert (
        do(first, meter, "hand-over", to=first.pk).data["lending"]
        == (do(first, meter, "hand-over", to=first.pk).data["lending"])
    )
    until = do(first, meter, "until", until=str(TODAY())).data["lending"]
    assert do(first, meter, "until", until=str(TODAY())).data["lending"] == until
    # Who has it no more may not have heard that they handed it on.
    second = members[1]
    handed = [do(first, meter, "hand-over", to=second.pk) for _ in range(2)]
    assert handed[0].data["lending"]["held"] == handed[1].data["lending"]["held"] is not None
    assert [do(second, meter, "back").status_code for _ in range(2)] == [200, 200]
    assert do(second, meter, "withdraw").status_code == 200
    assert MeterLoan.objects.count() == 2


def test_nobodys_turn_has_no_end_to_set(officer, members, meter):
    answer = do(officer, meter, "until", until=str(TODAY()))
    assert answer.status_code == 400 and list(answer.json()["errors"]) == ["until"]


def test_who_waits_may_leave_the_list(members, meter):
    do(members[0], meter, "ask")
    assert do(members[0], meter, "withdraw").data["lending"]["waiting"] == []


@pytest.mark.parametrize("act", ["hand-over", "back", "until"])
def test_a_member_who_does_not_have_it_may_not_send_it_on(officer, members, meter, act):
    first, second, third = members
    do(officer, meter, "hand-over", to=first.pk)
    do(second, meter, "ask")
    bodies = {"hand-over": {"to": third.pk}, "back": {}, "until": {"until": str(TODAY())}}
    assert do(third, meter, act, **bodies[act]).status_code == 403
    assert not program(third).get(at(meter)).data["lending"]["may_hand"]
    assert program(second).get(at(meter)).data["lending"]["may_hand"]
    assert MeterLoan.objects.held().get().keeper == first


@pytest.mark.parametrize("days", [-1, 367])
def test_until_is_from_today_to_a_year_from_now(officer, members, meter, days):
    do(officer, meter, "hand-over", to=members[0].pk)
    day = TODAY() + dt.timedelta(days=days)
    answer = do(officer, meter, "until", until=str(day))
    assert answer.status_code == 400 and list(answer.json()["errors"]) == ["until"]
    kept = do(officer, meter, "until", until=str(TODAY() + dt.timedelta(days=3)))
    assert kept.data["lending"]["held"]["until"] == str(TODAY() + dt.timedelta(days=3))


def test_it_is_handed_to_members_alone(officer, stranger, meter):
    answer = do(officer, meter, "hand-over", to=stranger.pk)
    assert answer.status_code == 400 and list(answer.json()["errors"]) == ["to"]


def test_a_meter_that_went_on_meanwhile_is_not_handed_over(officer, members, meter):
    read = program(officer).get(at(meter))
    do(members[0], meter, "ask")
    client = program(officer)
    headers = {"If-Match": read["ETag"]}
    body = {"to": members[1].pk}
    stale = client.post(at(meter, "hand-over"), body, format="json", headers=headers)
    assert stale.status_code == 412 and not MeterLoan.objects.held().exists()


@pytest.mark.parametrize("act", ["", "ask", "withdraw", "hand-over", "back", "until"])
def test_a_stranger_learns_of_no_meter(stranger, meter, act):
    client = program(stranger)
    send = client.post if act else client.get
    assert send(at(meter, act)).status_code == 404


# --- The meters of a club -------------------------------------------------------------------
def test_officers_make_and_change_a_meter_and_members_read_it(officer, members, club):
    address = f"/api/v1/clubs/{club.pk}/meters/"
    assert program(members[0]).post(address, {"label": "Old"}, format="json").status_code == 403
    made = program(officer).post(address, {"label": "Sensor"}, format="json")
    meter = Meter.objects.get()
    assert (meter.club, meter.owner, meter.follows_checks) == (club, officer, True)
    changed = program(officer).patch(made["Location"], {"label": "Apogee"}, format="json")
    assert changed.data["label"] == "Apogee"
    rows = program(members[0]).get(address).data["results"]
    assert [row["label"] for row in rows] == ["Apogee"]
    assert program(members[0]).delete(made["Location"]).status_code == 403
    assert program(officer).delete(made["Location"]).status_code == 204


def test_surveys_follow_a_check_of_their_clubs_meter(officer, members, meter, tank):
    survey = make_survey(tank, meter=meter)
    address = at(meter, "checks")
    given = {
        "checked_on": "2026-05-03", "reference": "Lab", "reference_percent": 3,
        "pairs": [[100, 110]],
    }  # fmt: skip
    assert program(members[0]).post(address, given, format="json").status_code == 403
    meter.uncertainty_percent = 5
    meter.save()
    assert program(officer).post(address, given, format="json").status_code == 201
    survey.refresh_from_db()
    meter.refresh_from_db()
    assert survey.correction_factor > 1.0 and meter.checked_on == dt.date(2026, 5, 3)
    assert program(members[0]).get(address).data["count"] == 1


def test_checks_of_another_clubs_meter_are_not_there(officer, meter):
    other = make_club_meter(make_club(make_user()))
    make_meter_check(other)
    address = f"/api/v1/clubs/{meter.club_id}/meters/{other.pk}/checks/"
    assert program(officer).get(address).status_code == 404


# --- Clubs and their people -----------------------------------------------------------------
def test_who_makes_a_club_is_its_officer(stranger):
    client = program(stranger)
    made = client.post("/api/v1/clubs/", {"name": "Reef 04"}, format="json")
    assert made.status_code == 201 and made.data["role"] == "officer"
    assert client.patch(made["Location"], {"name": "Reef 05"}, format="json").status_code == 200
    assert Club.objects.get().name == "Reef 05"


def test_members_see_who_is_in_their_club_and_officers_say_who_is(officer, members, club):
    address = f"/api/v1/clubs/{club.pk}/members/"
    rows = program(members[0]).get(address).data["results"]
    assert names(rows) == ["Olga", "Mara", "Milo", "Mina"]
    assert program(members[0]).get(f"/api/v1/clubs/{club.pk}/").data["role"] == "member"
    mara, milo, mina = (f"{address}{row['id']}/" for row in rows[1:])
    body = {"role": "officer"}
    assert program(members[1]).patch(mara, body, format="json").status_code == 403
    assert program(officer).patch(mara, body, format="json").data["role"] == "officer"
    assert program(officer).delete(milo).status_code == 204
    assert program(officer).post(f"{mina}block/").status_code == 204
    assert Block.objects.get().user == members[2] and club.memberships.count() == 2


def test_the_last_officer_stays_one_and_is_not_put_out(officer, club):
    own = club.memberships.get(user=officer)
    address = f"/api/v1/clubs/{club.pk}/members/{own.pk}/"
    client = program(officer)
    assert client.patch(address, {"role": "member"}, format="json").status_code == 400
    assert client.delete(address).status_code == client.post(f"{address}block/").status_code == 404


def queries_of(client, address):
    with CaptureQueriesContext(connection) as caught:
        assert client.get(address).status_code == 200
    return len(caught)


def test_lists_ask_the_database_as_often_however_long_they_are(officer, members, meter):
    client = program(officer)
    lists = ("/api/v1/clubs/", f"/api/v1/clubs/{meter.club_id}/meters/")
    do(members[0], meter, "ask")
    before = [queries_of(client, address) for address in lists]
    for _ in range(4):
        do(members[1], make_club_meter(meter.club), "ask")
        make_club(officer)
    assert [queries_of(client, address) for address in lists] == before
    roles = [row["role"] for row in client.get("/api/v1/clubs/").json()["results"]]
    assert roles == ["officer"] * 5
    [row] = program(members[0]).get("/api/v1/clubs/").json()["results"]
    assert row["role"] == "member"


# --- Own meters -----------------------------------------------------------------------------
def test_a_meter_takes_the_factor_that_its_checks_say(owner):
    client = program(owner)
    made = client.post("/api/v1/meters/", {"label": "Own", "immersion_factor": 1.3}, format="json")
    meter = Meter.objects.get()
    refused = client.post(f"{made['Location']}take-factor/")
    meter.refresh_from_db()
    assert refused.status_code == 400 and meter.total_factor() == 1.3
    make_meter_check(meter)
    client.post(f"{made['Location']}take-factor/")
    meter.refresh_from_db()
    assert meter.total_factor() == pytest.approx(1.1, abs=0.01)
