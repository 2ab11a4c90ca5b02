"""An acclimation's next step is told on its tank's page, and once in its calendar."""

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.planning.acclimation.reminders import acclimation_reminders
from apps.tanks.reminding import reminders_due
from tests.factories import make_acclimation, make_coral, make_note


@pytest.fixture
def coral(tank):
    return make_coral(tank, name="Stag")


def found(tank):
    return [(r.title, (r.due_on - tank.today()).days) for r in reminders_due(tank, timezone.now())]


def test_next_step_is_told_with_the_day_since_which_it_waits(as_user, owner, tank, coral):
    plan = make_acclimation(coral, starts_days_ago=5)
    assert found(tank) == [("Step 1 of 3: Stag", -5)]
    page = as_user(owner).get(reverse("tank_detail", args=[tank.pk])).content.decode()
    assert reverse("acclimation_detail", args=[plan.pk]) in page
    assert "late by 5 days" in page


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
