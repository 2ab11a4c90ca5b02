"""What has grown stale is told once it is, on the tank's page and in its calendar."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from apps.common.units import plus_minus
from apps.lighting.day.running import start_day_curve
from apps.lightmap.check import reminders
from apps.lightmap.check.reminders import light_reminders
from apps.lightmap.lightmap import TankLight, tank_light
from tests.factories import (
    hang,
    make_day_curve,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_survey,
)

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def keys(tank):
    return [reminder.key.split("-")[0] for reminder in light_reminders(tank, NOW)]


def test_fresh_map_reminds_of_nothing(tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    assert keys(tank) == []


def test_map_is_stale_from_the_change_that_made_it_unsure(tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    for days in (9, 6, 3):
        make_light_change(tank, happened_at=days_ago(days), factor=0.8, summary=f"{days} ago")
    (reminder,) = light_reminders(tank, NOW)
    due = {days_ago(days).astimezone(tank.zone).date(): days for days in (9, 6, 3)}
    assert reminder.key.startswith("map-") and f"“{due[reminder.due_on]} ago”" in reminder.why


def test_reminder_and_map_say_one_figure(as_user, owner, tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    for days in (9, 6, 3):
        make_light_change(tank, happened_at=days_ago(days), factor=0.8)
    (reminder,) = light_reminders(tank, NOW)
    page = as_user(owner).get(reverse("light_map", args=[tank.pk])).context["page"]
    figure = plus_minus(page.light.field.half_width_percent)
    assert figure in reminder.why and f"{figure} (90" in page.moment.rest


def test_map_that_is_sure_again_reminds_of_nothing(monkeypatch, tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    make_light_change(tank, happened_at=days_ago(9), factor=0.8)
    widths = {days_ago(20): 10.0, days_ago(9): 60.0, NOW: 12.0}
    light = tank_light(tank)
    monkeypatch.setattr(TankLight, "at", lambda light, points, moment: moment)
    monkeypatch.setattr(reminders, "half_width_percent", widths.__getitem__)
    assert not list(reminders.map_reminders(tank, light, NOW))
    widths[NOW] = 26.0
    assert list(reminders.map_reminders(tank, light, NOW))


def test_exact_changes_leave_the_map_fresh(tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    for n in range(8):
        change = make_light_change(tank, happened_at=days_ago(15 - n), factor=1, reason="level")
        hang(change, tank.owner.fixtures.get(), level_percent=50 + n)
    assert keys(tank) == []


def test_new_survey_ends_the_reminder(tank):
    make_lit_survey(tank, taken_at=days_ago(20))
    for days in (9, 6, 3):
        make_light_change(tank, happened_at=days_ago(days), factor=0.8)
    make_survey(tank, taken_at=days_ago(1))
    assert keys(tank) == []


def test_tubes_are_due_when_their_hours_run_out(tank):
    tube = make_fixture(tank.owner, kind="tube", lit_length_cm=50, lit_width_cm=4)
    hang(make_light_change(tank, happened_at=days_ago(300), factor=1, day_hours=10), tube)
    (reminder,) = light_reminders(tank, NOW)
    # 3,000 h of 3,300 h are gone; 10 h a day leave 30 days.
    assert reminder.due_on == (NOW + dt.timedelta(days=30)).astimezone(tank.zone).date()
    assert " 3000 hours" in reminder.why


def test_tubes_that_burn_longest_are_due_first(tank):
    change = make_light_change(
        tank, happened_at=days_ago(100), factor=1, day_hours=None, ramp_hours=0
    )
    for group, hours in (("white", 4), ("blue", 12)):
        channel = {"name": group, "peak_nm": 450, "share_percent": 100}
        hang(change, make_fixture(tank.owner, kind="tube", name=group, channels=[channel]))
        points = [[480, 100], [480 + 60 * hours, 100]]
        curve = make_day_curve(tank, group=group, share_percent=50, points=points)
        start_day_curve(curve=curve, happened_at=days_ago(100), created_by=tank.owner)
    (reminder,) = light_reminders(tank, NOW)
    assert "“blue 2”" in reminder.why and " 1200 hours" in reminder.why
    # 2,100 h are left, 12 a day.
    assert reminder.due_on == (NOW + dt.timedelta(days=175)).astimezone(tank.zone).date()


def test_tubes_that_hardly_burn_are_not_foreseen(tank):
    tube = make_fixture(tank.owner, kind="tube")
    change = make_light_change(
        tank, happened_at=days_ago(9), factor=1, day_hours=0.001, ramp_hours=0
    )
    hang(change, tube)
    assert keys(tank) == []


def test_replaced_tubes_start_anew(tank):
    tube = make_fixture(tank.owner, kind="tube", lit_length_cm=50, lit_width_cm=4)
    hang(make_light_change(tank, happened_at=days_ago(300), factor=1, day_hours=10), tube)
    make_light_change(tank, happened_at=days_ago(30), factor=1, reason="tubes", day_hours=10)
    (reminder,) = light_reminders(tank, NOW)
    assert " 300 hours" in reminder.why


def test_meter_is_due_a_year_after_its_check(tank):
    day = tank.today()
    meter = make_meter(tank.owner, checked_on=day - dt.timedelta(days=400))
    make_survey(tank, meter=meter, taken_at=days_ago(20))
    (reminder,) = light_reminders(tank, NOW)
    assert reminder.due_on == day - dt.timedelta(days=35) and "Club meter" in reminder.why


@pytest.fixture
def stale(tank):
    meter = make_meter(tank.owner, checked_on=tank.today() - dt.timedelta(days=400))
    make_survey(tank, meter=meter, taken_at=days_ago(20))


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_tank_page_tells_what_is_due(request, as_user, tank, stale, who):
    page = as_user(request.getfixturevalue(who)).get(reverse("tank_detail", args=[tank.pk]))
    body = page.content.decode()
    assert "Check the meter" in body
    # What leads to writing is for those who may.
    assert (">Check the meter</a>" in body) == (who != "viewer")


def test_what_is_far_off_is_in_the_calendar_alone(as_user, client, owner, tank):
    meter = make_meter(owner, checked_on=tank.today() - dt.timedelta(days=100))
    make_survey(tank, meter=meter, taken_at=days_ago(20))
    page = as_user(owner).get(reverse("tank_detail", args=[tank.pk])).content.decode()
    assert "Check the meter" not in page
    (event,) = calendar_events(as_user(owner), client, tank)
    assert event.decoded("dtstart") == tank.today() + dt.timedelta(days=265)


def calendar_events(keeper, client, tank):
    page = keeper.post(reverse("calendar_link_new", args=[tank.pk]))
    address = page.context["address"].removeprefix("http://testserver")
    return Calendar.from_ical(client.get(address).content).walk("VEVENT")


def test_calendar_names_a_reminder_the_same_each_time(as_user, client, owner, tank, stale):
    (event,) = calendar_events(as_user(owner), client, tank)
    (again,) = calendar_events(as_user(owner), client, tank)
    assert event["uid"] == again["uid"] and event["summary"].endswith("Harbour cube")
    # Long due stands on today: a calendar shows what is ahead.
    assert event.decoded("dtstart") == tank.today()
