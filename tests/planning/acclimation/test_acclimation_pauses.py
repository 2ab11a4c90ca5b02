"""A coral noted paling pauses its plan, and a step back lets it go on."""

import datetime as dt

from django.urls import reverse
from django.utils import timezone

from apps.corals.models import HealthNote
from tests.factories import make_acclimation, make_coral, make_note, make_tick


def test_paling_pauses_the_plan_and_steps_back(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral, starts_days_ago=5)
    make_tick(plan, 1, days_ago=5)
    make_tick(plan, 2, days_ago=2)
    make_note(coral, seen=HealthNote.Seen.PALING)
    page = as_user(owner).get(reverse("acclimation_detail", args=[plan.pk])).content.decode()
    assert "Paused at step 2" in page
    assert "Go back to step 1" in page


def test_paling_beside_another_sign_pauses_too(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral, starts_days_ago=5)
    make_tick(plan, 1, days_ago=5)
    make_note(coral, seen=HealthNote.Seen.POLYPS_IN, also_seen=[HealthNote.Seen.PALING])
    page = as_user(owner).get(reverse("acclimation_detail", args=[plan.pk])).content.decode()
    assert "Paused at step 1" in page


def test_after_the_step_back_it_goes_on_once_the_coral_is_well(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral, starts_days_ago=9)
    make_tick(plan, 1, days_ago=9)
    make_tick(plan, 2, days_ago=6)
    note = make_note(coral, noted_on=tank.today() - dt.timedelta(days=5))
    HealthNote.objects.update(created_at=timezone.now() - dt.timedelta(days=5))
    make_tick(plan, 1, days_ago=4)
    client, address = as_user(owner), reverse("acclimation_detail", args=[plan.pk])
    assert "Waiting at step 1" in client.get(address).content.decode()
    make_note(note.coral, seen=HealthNote.Seen.WELL)
    assert "Under way, at step 1" in client.get(address).content.decode()


def test_a_note_taken_away_no_longer_pauses(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral)
    make_note(coral).remove()
    page = as_user(owner).get(reverse("acclimation_detail", args=[plan.pk])).content.decode()
    assert "Paused" not in page


def test_a_paling_of_any_coral_pauses_a_whole_tank(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank), whole_tank=True)
    make_note(make_coral(tank, name="The other"))
    page = as_user(owner).get(reverse("acclimation_detail", args=[plan.pk])).content.decode()
    assert "The other was noted paling" in page
