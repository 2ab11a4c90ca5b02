"""The demo scenario as a keeper meets it: loaded once, and only looked at."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Coral
from apps.lighting.history import light_history
from apps.outcomes.association.correlation import tank_outcomes
from apps.surveys.models import Survey
from apps.tanks.models import Tank
from tests.test_rooms import ROOMS

pytestmark = pytest.mark.one_database


@pytest.fixture
def keeper(scenario, db):
    return scenario


def tank_named(name):
    return Tank.objects.get(name=name)


def test_counts(keeper):
    assert Tank.objects.visible_to(keeper).count() == 2
    assert Survey.objects.count() == 3 and Coral.objects.count() == 12


def test_history_spans_six_months(keeper):
    tank = tank_named("Harbour cube")
    first = tank.light_changes.order_by("happened_at").first()
    assert (tank.today() - first.happened_at.date()).days >= 180


def test_day_of_the_shelf_is_drawn_and_runs(keeper):
    tank = tank_named("The long shelf")
    assert {c.name for c in tank.day_curves.all()} == {"Long day", "Soft evening", "Moonlight"}
    history = light_history(tank)
    # Nine and a half hours with straight ramps of one and a half.
    assert history.schedule_at(timezone.now()).full_hours == pytest.approx(8)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("name", ["Harbour cube", "The long shelf"])
def test_every_room_opens(as_user, keeper, name, room):
    url = reverse(room, args=[tank_named(name).pk])
    assert as_user(keeper).get(url).status_code == 200


@pytest.mark.parametrize("name", ["Harbour cube", "The long shelf"])
def test_every_link_of_the_rooms_opens(as_user, keeper, name):
    """Follow the pages one tank's rooms lead to, as a keeper would."""
    client, tank = as_user(keeper), tank_named(name)
    found = set()
    for room in ROOMS:
        html = client.get(reverse(room, args=[tank.pk])).content.decode()
        found |= set(re.findall(r'<a [^>]*href="(/[^"#?]*)"', html.split("<main", 1)[1]))
    bad = {url: client.get(url).status_code for url in sorted(found)}
    assert {url: code for url, code in bad.items() if code not in (200, 302)} == {}
    event = tank_outcomes(tank).events[0]
    assert reverse("outcome_detail", args=[tank.pk, event.pk]) in found


def only_event(tank_name):
    outcomes = tank_outcomes(tank_named(tank_name))
    (event,) = outcomes.events
    return outcomes.lit(event)


def test_paled_coral_had_more_light_and_was_above_its_band(keeper):
    event = only_event("Harbour cube")
    assert event.event.verb == "paled"
    assert event.since_weeks_6.par_ratio == pytest.approx(1.4)
    assert event.place.state == "above"


def test_browned_coral_sat_below_its_band(keeper):
    event = only_event("The long shelf")
    assert event.event.verb == "browned"
    assert (event.place.state, event.place.sure) == ("below", True)


def test_friend_may_look_but_not_sign_in(keeper):
    friend = tank_named("Harbour cube").memberships.get().user
    assert not friend.has_usable_password()


@pytest.mark.parametrize("name", ["Harbour cube", "The long shelf"])
def test_maps_of_the_demo_are_carried_by_its_fixtures(as_user, keeper, name):
    tank = tank_named(name)
    shown = as_user(keeper).get(reverse("light_map", args=[tank.pk])).context["page"]
    assert shown.light.rig and not shown.light.guessed
    assert shown.light.summary.method.startswith("the light of your lamps")
    assert len(shown.disagreeing) < len(shown.rows) / 10


def test_the_shelf_is_on_its_way_to_a_fifth_more_light(keeper):
    plan = tank_named("The long shelf").acclimations.get()
    assert plan.whole_tank
    assert plan.steps.last().setting == pytest.approx(120, abs=0.5)


def test_the_demo_has_a_layout_searched_to_the_end(keeper, as_user):
    plan = keeper.plans.get()
    page = as_user(keeper).get(reverse("layout_detail", args=[plan.pk])).content.decode()
    assert plan.answer["finished"] and "Square panel" in page
    assert plan.asked["surveyed_on"] and 'id="newer-survey"' not in page
