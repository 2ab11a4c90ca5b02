"""The calendar of acclimation steps: opened by a secret address, closed with the access."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from apps.common.tokens import hash_token
from apps.sharing.models import CalendarLink
from tests.factories import make_acclimation, make_coral, make_note, make_tick


def made(client, tank):
    page = client.post(reverse("calendar_link_new", args=[tank.pk]))
    return page.context["address"].removeprefix("http://testserver")


def events(client, address):
    return Calendar.from_ical(client.get(address).content).walk("VEVENT")


def test_the_address_lists_every_step_ahead(as_user, client, owner, tank):
    plan = make_acclimation(make_coral(tank), starts_days_ago=2)
    make_tick(plan, 1, days_ago=2)
    result = events(client, made(as_user(owner), tank))
    days = [event.decoded("dtstart") for event in result]
    assert days == [tank.today() + dt.timedelta(days=1), tank.today() + dt.timedelta(days=4)]


NEEDED = ("UID", "DTSTAMP", "DTSTART")


def problems_by_rfc(text):
    """Return what RFC 5545 has against a calendar: 3.1 lines, 3.4 and 3.6 what it holds."""
    stated = []
    lines = text.split(b"\r\n")
    if text.count(b"\n") != text.count(b"\r\n") or lines[-1] or max(map(len, lines)) > 75:
        stated.append("lines end in CRLF and hold 75 octets")
    calendar = Calendar.from_ical(text)
    if not all(name in calendar for name in ("PRODID", "VERSION")):
        stated.append("PRODID and VERSION are required")
    if not calendar.subcomponents:
        stated.append("at least one component is required")
    if any(name not in event for event in calendar.subcomponents for name in NEEDED):
        stated.append("an event has a UID, DTSTAMP and DTSTART")
    names = [str(event["UID"]) for event in calendar.subcomponents]
    return stated + ["a UID stands once"] * (len(set(names)) < len(names))


def test_calendar_with_nothing_due_is_whole_and_says_that_it_works(as_user, client, owner, tank):
    address = made(as_user(owner), tank)
    week_ago = timezone.now() - dt.timedelta(days=7)
    CalendarLink.objects.update(created_at=week_ago)
    text = client.get(address).content
    (event,) = Calendar.from_ical(text).walk("VEVENT")
    assert problems_by_rfc(text) == []
    assert event["summary"].endswith("Harbour cube")
    # The day it was made: what is never in anyone's way again.
    assert event.decoded("dtstart") == week_ago.date()


def test_what_is_due_takes_the_place_of_the_word_that_nothing_is(as_user, client, owner, tank):
    address = made(as_user(owner), tank)
    tank.name = "Ünïcode " * 10
    tank.save()
    for name in ("One", "Two"):
        make_acclimation(make_coral(tank, name=name))
    text = client.get(address).content
    assert problems_by_rfc(text) == []
    assert len(events(client, address)) == 6 and b"Nothing is due" not in text


def test_check_by_the_rfc_finds_an_empty_calendar():
    empty = b"BEGIN:VCALENDAR\r\nPRODID:x\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n"
    assert problems_by_rfc(empty) == ["at least one component is required"]


def test_an_event_keeps_its_name_when_its_day_moves(as_user, client, owner, tank):
    plan = make_acclimation(make_coral(tank))
    address = made(as_user(owner), tank)
    before = [str(event["uid"]) for event in events(client, address)]
    plan.starts_on += dt.timedelta(days=5)
    plan.save()
    assert [str(event["uid"]) for event in events(client, address)] == before


def test_a_paused_plan_says_so_in_the_calendar(as_user, client, owner, tank):
    coral = make_coral(tank)
    make_tick(make_acclimation(coral, starts_days_ago=2), 1, days_ago=2)
    make_note(coral)
    (event,) = events(client, made(as_user(owner), tank))
    assert "Paused at step 1" in event["summary"]


def test_only_a_fingerprint_of_the_address_is_kept(as_user, owner, tank):
    token = made(as_user(owner), tank).split("/")[2]
    assert CalendarLink.objects.get().token_hash == hash_token(token)
    page = as_user(owner).get(reverse("calendar_link", args=[tank.pk]))
    assert token not in page.content.decode()


def test_a_new_address_closes_the_old_one(as_user, client, owner, tank):
    old = made(as_user(owner), tank)
    new = made(as_user(owner), tank)
    assert client.get(old).status_code == 404
    assert client.get(new).status_code == 200


def test_a_closed_address_opens_nothing(as_user, client, owner, tank):
    address = made(as_user(owner), tank)
    as_user(owner).post(reverse("calendar_link_close", args=[tank.pk]))
    assert client.get(address).status_code == 404


def test_who_is_shut_out_of_the_tank_is_shut_out_of_its_calendar(as_user, client, viewer, tank):
    address = made(as_user(viewer), tank)
    assert client.get(address).status_code == 200
    tank.memberships.all().delete()
    assert client.get(address).status_code == 404


def test_the_answer_is_not_kept_on_the_way(as_user, client, owner, tank):
    response = client.get(made(as_user(owner), tank))
    assert "no-store" in response["Cache-Control"]
    assert response["Content-Type"].startswith("text/calendar")


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_have_an_address(request, as_user, tank, reader, status):
    client = as_user(request.getfixturevalue(reader))
    assert client.get(reverse("calendar_link", args=[tank.pk])).status_code == status
    assert client.post(reverse("calendar_link_new", args=[tank.pk])).status_code == status
