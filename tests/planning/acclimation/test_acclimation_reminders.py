"""An acclimation's next step is told on its tank's page, and once in its calendar."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from apps.planning.acclimation.reminders import acclimation_reminders
from apps.planning.acclimation.steps_calendar import uid_of
from apps.tanks.reminding import reminders_due
from tests.factories import make_acclimation, make_coral, make_note


@pytest.fixture
def coral(tank):
    return make_coral(tank, name="Stag")


def found(tank):
    return [(r.key, (r.due_on - tank.today()).days) for r in reminders_due(tank, timezone.now())]


def test_next_step_is_told_with_the_day_since_which_it_waits(as_user, owner, tank, coral):
    plan = make_acclimation(coral, starts_days_ago=5)
    assert found(tank) == [(f"acclimation-{plan.pk}", -5)]
    page = as_user(owner).get(reverse("tank_detail", args=[tank.pk])).content.decode()
    assert reverse("acclimation_detail", args=[plan.pk]) in page
    assert "5 days late" in page


def test_paused_plan_asks_to_look_after_its_coral(tank, coral):
    make_acclimation(coral, starts_days_ago=5)
    make_note(coral, noted_on=tank.today(), seen="paling")
    (reminder,) = acclimation_reminders(tank, timezone.now())
    assert reminder.title == "Look after Stag" and "Paused" in reminder.why


def test_plan_taken_away_or_arrived_asks_for_nothing(tank, coral):
    plan = make_acclimation(coral, lights=(100, 110), starts_days_ago=5)
    plan.ticks.create(number=1, done_on=tank.today())
    assert found(tank) == []
    plan.ticks.all().delete()
    plan.remove()
    assert found(tank) == []


def test_calendar_tells_each_step_once(as_user, owner, tank, coral, client):
    make_acclimation(coral, starts_days_ago=1)
    page = as_user(owner).post(reverse("calendar_link_new", args=[tank.pk]))
    text = client.get(page.context["address"]).content.decode()
    assert text.count("BEGIN:VEVENT") == 3 and "Step 1 of" not in text


def test_reminders_ask_no_more_for_more_plans(tank, django_assert_num_queries):
    for number in range(2):
        make_acclimation(make_coral(tank, name=f"Stag {number}"))
    with django_assert_num_queries(5):
        assert len(list(acclimation_reminders(tank, timezone.now()))) == 2


def events(client, plan):
    answer = client.get(reverse("acclimation_calendar", args=[plan.pk]))
    calendar = Calendar.from_ical(answer.content)
    return [(str(e["uid"]), e["dtstart"].dt) for e in calendar.walk("VEVENT")]


def test_the_steps_ahead_are_a_calendar_file(as_user, owner, tank, coral):
    plan, today = make_acclimation(coral, starts_days_ago=0), tank.today()
    found = events(as_user(owner), plan)
    names = [uid_of(tank, f"acclimation-{plan.pk}-{n}") for n in (1, 2, 3)]
    assert [name for name, _ in found] == names
    assert found[0][1] == today


def test_an_entry_has_one_name_under_every_address_and_wakes_in_the_morning(
    as_user, owner, tank, coral
):
    plan, client = make_acclimation(coral), as_user(owner)
    address = reverse("acclimation_calendar", args=[plan.pk])
    here, there = client.get(address), client.get(address, headers={"host": "localhost"})
    calendars = [Calendar.from_ical(answer.content) for answer in (here, there)]
    names = [[str(event["uid"]) for event in one.walk("VEVENT")] for one in calendars]
    assert names[0] == names[1] and len(set(names[0])) == 3
    alarms = calendars[0].walk("VALARM")
    assert [alarm["trigger"].dt for alarm in alarms] == [dt.timedelta(hours=9)] * 3
    assert all(alarm["action"] == "DISPLAY" and alarm["description"] for alarm in alarms)


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_have_the_calendar_file(request, as_user, coral, reader, status):
    plan = make_acclimation(coral)
    client = as_user(request.getfixturevalue(reader))
    assert client.get(reverse("acclimation_calendar", args=[plan.pk])).status_code == status
