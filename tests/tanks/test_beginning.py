"""The way of a new tank: which stage is next, and that it goes once it is walked."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.tanks.beginning import ORDER, beginning_of
from tests.factories import (
    grid_readings,
    hang,
    make_coral,
    make_light_change,
    make_note,
    make_survey,
)

pytestmark = pytest.mark.django_db


def next_key(tank):
    following = beginning_of(tank, timezone.now()).next
    return following and following.key


def tank_page(client, tank):
    return client.get(reverse("tank_detail", args=[tank.pk])).content.decode()


def test_way_of_a_new_tank_begins_with_what_hangs(tank):
    assert tuple(s.key for s in beginning_of(tank, timezone.now()).stages) == ORDER
    assert next_key(tank) == "hang"


def test_each_record_opens_the_next_stage(tank):
    seen = []
    change = make_light_change(tank, factor=1, day_hours=None, ramp_hours=0)
    hang(change)
    seen.append(next_key(tank))
    make_survey(tank, readings=grid_readings(tank)[:3])
    seen.append(next_key(tank))
    make_survey(tank, readings=grid_readings(tank))
    seen.append(next_key(tank))
    coral = make_coral(tank)
    seen.append(next_key(tank))
    make_light_change(tank, factor=1, day_hours=10)
    seen.append(next_key(tank))
    make_note(coral)
    assert [*seen, next_key(tank)] == ["survey", "map", "place", "schedule", "watch", None]


def test_hours_alone_finish_the_stage_which_claims_no_drawn_day(tank):
    make_light_change(tank, factor=1, day_hours=10)
    stages = {stage.key: stage for stage in beginning_of(tank, timezone.now()).stages}
    assert stages["schedule"].is_done and not tank.day_curves.exists()
    assert "day" not in stages["schedule"].title.lower()


def test_coral_without_a_spot_is_not_placed(tank):
    make_coral(tank, at_cm=None)
    stages = {stage.key: stage for stage in beginning_of(tank, timezone.now()).stages}
    assert not stages["place"].is_done
    assert stages["place"].url == reverse("coral_list", args=[tank.pk])


def test_page_shows_the_way_to_those_who_write(as_user, owner, co_keeper, tank):
    for keeper in (owner, co_keeper):
        assert "What next" in tank_page(as_user(keeper), tank)


def test_viewer_is_not_sent_on_the_way(as_user, viewer, tank):
    assert "What next" not in tank_page(as_user(viewer), tank)


def test_every_stage_opens(as_user, owner, tank):
    client = as_user(owner)
    make_survey(tank, readings=[])
    make_coral(tank, at_cm=None)
    for stage in beginning_of(tank, timezone.now()).stages:
        assert (stage.key, client.get(stage.url).status_code) == (stage.key, 200)


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_every_room_named_on_the_page_of_rooms_opens(request, as_user, tank, who):
    client = as_user(request.getfixturevalue(who))
    page = client.get(reverse("tank_rooms", args=[tank.pk])).content.decode()
    rooms = re.search(r'<nav id="all-rooms".*?</nav>', page, re.S)[0]
    links = re.findall(r'href="([^"]+)"', rooms)
    assert len(links) >= 20
    for link in links:
        assert (link, client.get(link).status_code) == (link, 200)


def test_each_step_says_how_far_it_is(tank):
    make_light_change(tank)
    steps = {stage.key: words for stage, words in beginning_of(tank, timezone.now()).steps}
    assert steps["describe"] == "done" and list(steps.values()).count("next") == 1
    assert steps[beginning_of(tank, timezone.now()).next.key] == "next" and "open" in steps.values()
