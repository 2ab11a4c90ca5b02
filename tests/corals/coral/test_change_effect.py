"""The page of one light change: who may see it, what it tells of the map and of each coral."""

import datetime as dt
from types import SimpleNamespace

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.coral.change_effect import CoralEffect, EffectOnCorals, most_changed_first
from apps.lighting.change.summary import Step
from apps.lightmap.pins import BandState
from tests.factories import hang, make_coral, make_light_change, make_lit_survey, make_survey

NOW = timezone.now()


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def page(client, change, query=""):
    return client.get(reverse("light_change_effect", args=[change.pk]) + query)


@pytest.fixture
def raised(tank):
    """A surveyed panel raised five days ago over two corals."""
    make_lit_survey(tank, taken_at=days_ago(20))
    make_coral(tank, name="Under the panel", at_cm=(30, 30, 20))
    make_coral(tank, name="In the corner", at_cm=(5, 55, 40))
    change = make_light_change(
        tank, happened_at=days_ago(5), factor=1, reason="raised", summary="", day_hours=None,
        ramp_hours=0,
    )  # fmt: skip
    hang(change, tank.owner.fixtures.get(), height_cm=40)
    return change


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_friends_read_what_a_change_did(request, as_user, raised, who):
    response = page(as_user(request.getfixturevalue(who)), raised)
    body = response.content.decode()
    (difference,) = response.context["entry"].differences
    assert difference.steps == (Step("height_cm", 20, 40),) and difference.words[0] in body
    assert ("Edit</a>" in body) == (who != "viewer")


def test_stranger_finds_nothing(as_user, stranger, raised):
    assert page(as_user(stranger), raised).status_code == 404


def test_each_coral_is_told_with_its_change(as_user, owner, raised):
    rows = page(as_user(owner), raised).context["on_corals"].effects
    under = next(row for row in rows if row.coral.name == "Under the panel")
    assert under.key == "less" and under.high < 1
    assert under.low < under.ratio < under.high
    assert under.after.par_umol / under.before.par_umol == pytest.approx(under.ratio, rel=1e-6)
    assert under.after.dli_mol / under.before.dli_mol == pytest.approx(under.ratio, rel=1e-6)


def test_page_says_from_which_survey_it_is_predicted(as_user, owner, raised):
    shown = page(as_user(owner), raised).context
    survey = raised.tank.surveys.get()
    assert shown["worked_back"] is False
    assert shown["surveyed_on"] == survey.taken_at.astimezone(raised.tank.zone).date()


def test_first_entry_of_lamps_is_compared_with_nothing(as_user, owner, raised, tank):
    first = tank.light_changes.present().in_order()[0]
    shown = page(as_user(owner), first).context
    assert first.tells_rig and first != raised
    assert shown["begins"] and shown["effect"] is None and "ratio" not in shown
    assert not page(as_user(owner), raised).context["begins"]


def test_change_before_the_survey_is_worked_back(as_user, owner, tank):
    make_survey(tank, taken_at=days_ago(3))
    change = make_light_change(tank, happened_at=days_ago(9), factor=0.5)
    response = page(as_user(owner), change)
    assert response.context["worked_back"] is True
    assert response.context["ratio"].middle == pytest.approx(0.5)


def test_hours_change_the_daily_light_alone(as_user, owner, raised, tank):
    change = make_light_change(
        tank, happened_at=days_ago(2), factor=1, reason="hours", summary="", day_hours=5,
        ramp_hours=1,
    )  # fmt: skip
    (row, *_) = page(as_user(owner), change).context["on_corals"].effects
    assert row.key == "none" and row.after.dli_mol < 0.5 * row.before.dli_mol


def test_taking_all_down_is_told_as_dark(as_user, owner, raised, tank):
    change = make_light_change(tank, happened_at=days_ago(2), factor=1, summary="Down")
    change.tells_rig = True
    change.save()
    response = page(as_user(owner), change)
    assert response.context["effect"].is_dark
    assert {row.after.par_umol for row in response.context["on_corals"].effects} == {0}


def test_no_survey_is_said(as_user, owner, tank):
    response = page(as_user(owner), make_light_change(tank))
    assert response.context["effect"] is None
    assert reverse("survey_new", args=[tank.pk]) in response.content.decode()


def test_depth_that_cannot_be_read_is_told(as_user, owner, raised):
    body = page(as_user(owner), raised, "?depth=deep").content.decode()
    assert "Depth:" in body


def test_coral_that_came_later_is_not_listed(as_user, owner, raised, tank):
    make_coral(tank, name="Newcomer", since=tank.today())
    names = {row.coral.name for row in page(as_user(owner), raised).context["on_corals"].effects}
    assert names == {"Under the panel", "In the corner"}


def test_removed_change_has_no_page(as_user, owner, raised):
    raised.remove()
    assert page(as_user(owner), raised).status_code == 404


def test_no_rounding_chooses_which_coral_comes_first():
    def effect(name, ratio):
        empty = dict.fromkeys(("spot", "before", "after", "low", "high", "key", "state"))
        return CoralEffect(coral=name, ratio=ratio, **empty)

    alike = [effect("a", 0.79), effect("b", 0.79 - 1e-15), effect("c", 0.79 + 1e-15)]
    shown = most_changed_first([*alike, effect("less", 0.9), effect("most", 1.5)])
    assert [one.coral for one in shown] == ["most", "a", "b", "c", "less"]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            ["more above", "more below", "more within", "less within", *["noise within"] * 3],
            "3 of 7 corals brighter, 1 dimmer. 2 are outside their band now.",
        ),
        (
            ["less below", "noise within"],
            "1 of 2 corals dimmer. 1 is outside its band now.",
        ),
        (["noise within"], "No coral’s light clearly changed. None is outside its band now."),
        (["none unknown"], "No coral’s light clearly changed."),
        (
            ["none unknown", "noise above"],
            "No coral’s light clearly changed. 1 is outside its band now.",
        ),
    ],
)
def test_in_short_corals_are_counted(rows, words):
    pairs = [row.split() for row in rows]
    effects = [SimpleNamespace(key=key, state=BandState(state, state)) for key, state in pairs]
    assert EffectOnCorals(tuple(effects)).in_short == words
