"""How a tank stands today, on its own page: told by the apps above it, to all who may look."""

import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.common.moments import day_text
from apps.lighting.day.running import start_day_curve
from apps.lighting.overview import NOT_ENTERED
from apps.tanks.overview import ORDER, PICTURES, overview_of
from apps.tanks.reminding import Reminder
from tests.factories import (
    hang,
    make_coral,
    make_day_curve,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_note,
)

pytestmark = pytest.mark.django_db


def lines(tank):
    return {line.key: line for line in overview_of(tank, timezone.now())}


def days_ago(tank, days):
    return tank.today() - dt.timedelta(days=days)


def test_nothing_is_told_of_a_tank_without_records(tank):
    assert overview_of(tank, timezone.now()) == ()


def test_lamps_of_one_kind_and_level_are_told_together(tank, owner):
    puck = make_fixture(owner, name="Flat puck")
    change = make_light_change(tank, factor=1, summary="Hung three", day_hours=10, ramp_hours=1)
    hang(change, puck, level_percent=60)
    hang(change, puck, level_percent=60, x_cm=40)
    hang(change, puck, level_percent=35, x_cm=50)
    stated = lines(tank)["lamps"]
    assert stated.words == "2 × Flat puck at 60\u00a0%, Flat puck at 35\u00a0%"
    assert stated.more[0] == "Day: 10\u00a0h, ramps 1\u00a0h"
    assert day_text(change.happened_at.astimezone(tank.zone)) in stated.more[1]


def test_day_curve_is_told_by_the_name_its_keeper_gave_it(tank, owner):
    curve = make_day_curve(tank, name="Summer Day with SPS")
    start_day_curve(curve=curve, happened_at=timezone.now(), created_by=owner)
    assert lines(tank)["lamps"].more[0].endswith(curve.name)


def test_light_log_without_lamps_says_so(tank):
    make_light_change(tank)
    assert lines(tank)["lamps"].words == NOT_ENTERED


def test_change_of_tomorrow_is_not_told_as_today(tank):
    make_light_change(tank, happened_at=timezone.now() + dt.timedelta(days=1))
    assert "lamps" not in lines(tank)


def pictures(tank):
    return PICTURES.collect(tank, timezone.now(), "cm")


def test_map_picture_tells_its_survey_and_what_came_since(tank):
    now = timezone.now()
    make_lit_survey(tank, taken_at=now - dt.timedelta(days=20))
    make_light_change(tank, factor=0.8, happened_at=now - dt.timedelta(days=10))
    (picture,) = pictures(tank)
    changed_on = day_text((now - dt.timedelta(days=10)).astimezone(tank.zone))
    assert changed_on in picture.words and re.search(r"\b\d+\u00a0%", picture.words)


def test_tank_without_a_survey_has_no_picture(tank):
    make_light_change(tank)
    assert pictures(tank) == []


def test_picture_shows_corals_and_no_readings(tank):
    make_lit_survey(tank)
    make_coral(tank)
    ((drawn),) = [picture.drawn for picture in pictures(tank)]
    assert len(drawn.plan.pins) == 1
    assert not drawn.plan.dots.here and not drawn.plan.dots.away


def test_picture_leads_to_the_map_at_its_depth(as_user, owner, tank):
    make_lit_survey(tank)
    (picture,) = pictures(tank)
    page = as_user(owner).get(picture.url)
    assert page.context["page"].view.depth_cm == picture.drawn.view.depth_cm


def test_what_calls_for_the_keeper_stands_first(as_user, owner, tank):
    client, page = as_user(owner), reverse("tank_detail", args=[tank.pk])
    coral = make_coral(tank)
    make_note(coral, condition=5, seen="well", noted_on=days_ago(tank, 1))
    assert client.get(page).context["due"] == []
    make_note(coral, condition=3, seen="paling", noted_on=tank.today())
    shown = client.get(page).context
    assert [line.key for line in shown["due"]] == ["looks"]
    assert "looks" not in [line.key for line in shown["standing"]]


def test_corals_out_of_their_band_are_named(tank):
    make_lit_survey(tank)
    make_coral(tank, name="Shade lover", band_low_umol=1, band_high_umol=2)
    make_coral(tank, name="Any light", band_low_umol=1, band_high_umol=1900)
    make_coral(tank, name="On order", at_cm=None)
    stated = {state.key: state.words for state in lines(tank)["bands"].states}
    assert list(stated) == ["above", "unknown", "within"]
    assert stated["above"].endswith(": Shade lover") and stated["unknown"].endswith(": On order")
    assert stated["within"].startswith("1 ")


def test_no_more_than_three_corals_are_named(tank):
    for name in "abcde":
        make_coral(tank, name=name, at_cm=None)
    (mark,) = lines(tank)["bands"].states
    assert mark.words.endswith(": a, b, c and 2 more")


def test_corals_that_look_unwell_are_told_worst_first(tank):
    for name, condition, seen, days in (
        ("Well", 5, "growth", 2),
        ("Pale", 4, "paling", 4),
        ("Dying", 1, "tissue_loss", 9),
    ):
        coral = make_coral(tank, name=name, since=days_ago(tank, 20))
        make_note(coral, condition=condition, seen=seen, noted_on=days_ago(tank, days))
    make_coral(tank, name="New")
    stated = lines(tank)["looks"]
    (dying, to_dying), (pale, to_pale) = stated.links
    assert dying.startswith("Dying: failing") and dying.endswith(", 9 days ago")
    assert pale.startswith("Pale: a little off")
    by_name = {coral.name: coral.pk for coral in tank.corals.all()}
    assert to_dying == reverse("coral_case", args=[by_name["Dying"]])
    assert to_pale == reverse("coral_case", args=[by_name["Pale"]])
    assert stated.is_due and stated.url == reverse("outcome_list", args=[tank.pk])


def test_one_worrying_sign_outweighs_a_good_condition(tank):
    make_note(make_coral(tank), condition=5, seen="growth", also_seen=["paling"])
    assert len(lines(tank)["looks"].links) == 1


def test_well_corals_lead_nowhere_else(tank):
    make_note(make_coral(tank), condition=5, seen="well", noted_on=tank.today())
    stated = lines(tank)["looks"]
    assert stated.more == ("Last noted today",) and not stated.links and not stated.is_due
    assert stated.url == reverse("coral_wall", args=[tank.pk])


def test_more_than_three_unwell_corals_are_counted(tank):
    for name in "abcde":
        make_note(make_coral(tank, name=name), condition=2, seen="paling")
    stated = lines(tank)["looks"]
    assert len(stated.links) == 3 and stated.words.startswith("0 of 5 ")


def test_coral_that_is_gone_is_not_counted(tank):
    make_coral(tank, gone_on=tank.today(), gone_how="died", since=days_ago(tank, 3))
    assert lines(tank) == {}


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_all_who_may_look_see_how_it_stands_and_can_follow(request, as_user, tank, who):
    client = as_user(request.getfixturevalue(who))
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=5))
    make_note(make_coral(tank), condition=3, seen="paling")
    page = client.get(reverse("tank_detail", args=[tank.pk])).content.decode()
    stated = lines(tank)
    # Comments are the owner's alone.
    assert tuple(stated) == tuple(key for key in ORDER if key != "comments")
    for line in stated.values():
        assert f'<a href="{line.url}">{line.title}</a>' in page
        assert client.get(line.url).status_code == 200
    ((words, to_case),) = stated["looks"].links
    assert f'<a href="{to_case}">{words}</a>' in page


def test_reminders_beyond_the_first_two_are_folded(as_user, owner, tank, monkeypatch):
    reminders = [Reminder(f"key-{n}", tank.today(), f"Task {n}", "why", "/") for n in range(4)]
    monkeypatch.setattr("apps.tanks.views.reminders_due", lambda *_: reminders)
    shown = as_user(owner).get(reverse("tank_detail", args=[tank.pk])).context
    assert [r.key for r in shown["reminders"]] == ["key-0", "key-1"]
    assert [r.key for r in shown["more_reminders"]] == ["key-2", "key-3"]


def test_stranger_sees_no_tank(as_user, stranger, tank):
    make_coral(tank)
    assert as_user(stranger).get(reverse("tank_detail", args=[tank.pk])).status_code == 404
