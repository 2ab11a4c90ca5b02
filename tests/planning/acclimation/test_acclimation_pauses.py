"""A coral noted paling pauses its plan, and a step back lets it go on."""

import datetime as dt

from django.urls import reverse
from django.utils import timezone

from apps.corals.models import HealthNote
from apps.planning.acclimation.following import PAUSED, RISING, WAITING
from tests.factories import make_acclimation, make_coral, make_note, make_tick


def following_shown(client, plan):
    page = client.get(reverse("acclimation_detail", args=[plan.pk]))
    shown = page.context["page"]
    assert shown.state_words in page.content.decode()
    return shown.following


def test_paling_pauses_the_plan_and_steps_back(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral, starts_days_ago=5)
    make_tick(plan, 1, days_ago=5)
    make_tick(plan, 2, days_ago=2)
    make_note(coral, seen=HealthNote.Seen.PALING)
    following = following_shown(as_user(owner), plan)
    assert (following.state, following.position) == (PAUSED, 2)
    assert following.goes_back and following.next_number == 1


def test_paling_beside_another_sign_pauses_too(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral, starts_days_ago=5)
    make_tick(plan, 1, days_ago=5)
    make_note(coral, seen=HealthNote.Seen.POLYPS_IN, also_seen=[HealthNote.Seen.PALING])
    following = following_shown(as_user(owner), plan)
    assert (following.state, following.position) == (PAUSED, 1)


def test_after_the_step_back_it_goes_on_once_the_coral_is_well(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral, starts_days_ago=9)
    make_tick(plan, 1, days_ago=9)
    make_tick(plan, 2, days_ago=6)
    note = make_note(coral, noted_on=tank.today() - dt.timedelta(days=5))
    HealthNote.objects.update(created_at=timezone.now() - dt.timedelta(days=5))
    make_tick(plan, 1, days_ago=4)
    client = as_user(owner)
    waiting = following_shown(client, plan)
    assert (waiting.state, waiting.position) == (WAITING, 1)
    make_note(note.coral, seen=HealthNote.Seen.WELL)
    going_on = following_shown(client, plan)
    assert (going_on.state, going_on.position) == (RISING, 1)


def test_a_note_taken_away_no_longer_pauses(as_user, owner, tank):
    coral = make_coral(tank)
    plan = make_acclimation(coral)
    make_note(coral).remove()
    assert following_shown(as_user(owner), plan).state != PAUSED


def test_a_paling_of_any_coral_pauses_a_whole_tank(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank), whole_tank=True)
    make_note(make_coral(tank, name="The other"))
    page = as_user(owner).get(reverse("acclimation_detail", args=[plan.pk])).context["page"]
    assert page.following.state == PAUSED and page.watched.name == "The other"
