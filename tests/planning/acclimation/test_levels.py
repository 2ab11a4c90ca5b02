"""Levels of steps are round and never pass the wanted light; and what lamps reach."""

import datetime as dt

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.models import HungFixture, Zone
from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import stored_rig
from apps.planning.acclimation.levels import FULL_PERCENT, step_level
from apps.planning.acclimation.page import rig_after
from apps.planning.acclimation.step_back import before_first, most_share
from apps.planning.acclimation.step_settings import (
    UnreachableLight,
    daylight_at,
    most_by_level,
    share_settings,
)
from apps.planning.acclimation.words import setting_words
from apps.planning.models import Acclimation
from apps.planning.what_if.live_light import live_light
from tests.factories import (
    hang,
    make_acclimation,
    make_coral,
    make_fixture,
    make_light_change,
    make_lit_survey,
)


@pytest.mark.parametrize(
    ("start", "target", "base", "setting", "level"),
    [
        (100, 200, 72.0, 115.0, 82.0),  # 82.8 wanted
        (100, 200, 72.0, 125.0, 90.0),  # just whole
        (200, 100, 72.0, 87.0, 63.0),  # 62.64 wanted, and it goes down
        (100, 200, 66.5, 100.0, 66.5),  # as it hung
        (100, 200, 80.0, 130.0, 100.0),  # no more than full
        (100, 200, 80.0, 0.05, 0.1),  # a lamp that shines goes on shining
        (100, 200, 2.0, 20.0, 0.4),  # a dim one is set no brighter than wanted
    ],
)
def test_a_level_is_whole_and_never_past_the_wanted_one(start, target, base, setting, level):
    plan = Acclimation(start_umol=start, target_umol=target)
    assert step_level(plan, base, setting) == pytest.approx(level)


@pytest.mark.parametrize(
    ("base", "shares", "levels"),
    [
        (5.0, [105, 110, 115, 120], [5.2, 5.5, 5.7, 6.0]),
        (3.0, [110, 125], [3.3, 3.7]),
        (0.5, [110, 120], [0.5, 0.6]),
    ],
)
def test_a_dim_lamp_is_set_in_tenths_where_a_percent_is_more_than_the_rate(base, shares, levels):
    plan = Acclimation(start_umol=100, target_umol=200)
    assert FULL_PERCENT / base > plan.rate_percent
    assert [step_level(plan, base, one) for one in shares] == pytest.approx(levels)
    down = Acclimation(start_umol=200, target_umol=100)
    assert step_level(down, 5.0, 87.0) == pytest.approx(4.4)


def test_lamps_reach_what_the_brightest_gives_at_full():
    rows = [HungFixture(level_percent=80.0), HungFixture(level_percent=40.0)]
    assert most_by_level(100.0, rows) == pytest.approx(125.0)
    assert most_by_level(100.0, []) == float("inf")
    # Daylight is no more at any level.
    assert most_by_level(100.0, rows, 20.0) == pytest.approx(120.0)


def test_a_refugium_lamp_and_a_dark_one_bound_no_level():
    blue = [{"name": "Blue", "peak_nm": 450, "share_percent": 100}]
    rows = [
        HungFixture(level_percent=60.0),
        HungFixture(level_percent=100.0, zone=Zone.REFUGIUM),
        HungFixture(level_percent=100.0, channels=blue, channel_levels={"Blue": 0}),
    ]
    assert most_by_level(120.0, rows) == pytest.approx(200.0)
    settings = share_settings(Acclimation.Means.LEVEL, np.array([150.0, 200.0]), 120.0, rows)
    np.testing.assert_allclose(settings, [125.0, 500 / 3])
    with pytest.raises(UnreachableLight):
        share_settings(Acclimation.Means.LEVEL, np.array([202.0]), 120.0, rows)


def test_levels_lead_the_lamps_light_beside_daylight():
    rows, means = [HungFixture(level_percent=80.0)], Acclimation.Means.LEVEL
    settings = share_settings(means, np.array([60.0, 120.0]), 100.0, rows, 20.0)
    np.testing.assert_allclose(settings, [50.0, 125.0])
    for light in (15.0, 122.0):
        with pytest.raises(UnreachableLight):
            share_settings(means, np.array([light]), 100.0, rows, 20.0)


@pytest.mark.parametrize(
    ("start", "setting", "light"), [(100.0, 200 / 7, 100.0), (60.0, 0.0, 60.0), (40.0, 0.0, 60.0)]
)
def test_the_step_back_leaves_daylight_as_it_is(tank, start, setting, light):
    rows, lights = [HungFixture(level_percent=80.0)], (120.0, 144.0, 172.8, 200.0)
    plan = make_acclimation(make_coral(tank), lights=(start, *lights), rig=stored_rig(rows))
    steps = list(plan.steps.all())
    settings = share_settings(plan.means, np.array(lights), 200.0, rows, 60.0)
    for step, share in zip(steps, settings, strict=True):
        step.setting = share
    back = before_first(plan, steps)
    assert back.setting == pytest.approx(setting, abs=1e-9)
    assert back.light_umol == pytest.approx(light)


def test_the_step_back_of_a_single_step_goes_with_its_light(tank):
    plan = make_acclimation(make_coral(tank), lights=(100.0, 120.0))
    back = before_first(plan, list(plan.steps.all()))
    assert (back.setting, back.light_umol) == (pytest.approx(100 / 1.2), pytest.approx(100.0))


def test_daylight_at_a_spot_is_what_levels_leave(tank):
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    point = [[10.0, 30.0, 20.0]]
    assert daylight_at(point, live_light(tank, timezone.now())) == 0
    tank.window_side, tank.window_par_umol = "left", 60.0
    tank.save()
    live = live_light(tank, timezone.now())
    stays = daylight_at(point, live)
    assert 0 < stays < live.now_at(point).par_umol[0]
    live.rows[0].level_percent = 1e-3
    assert live.after_at(live.rows, point).par_umol[0] == pytest.approx(stays, rel=1e-2)


def test_steps_by_level_leave_a_refugium_lamp_as_it_is(tank):
    change = make_light_change(tank, factor=1)
    shown = hang(change, make_fixture(tank.owner, name="Panel"), level_percent=60.0)
    below = make_fixture(tank.owner, name="Refugium", zone=Zone.REFUGIUM)
    hang(change, below, level_percent=100.0)
    rows = rig_in_force(tank, timezone.now())
    plan = make_acclimation(make_coral(tank), rig=stored_rig(rows))
    step = plan.steps.first()
    assert "Refugium" not in setting_words(plan, step.setting, "cm")
    levels = {row.name: row.level_percent for row in rig_after(plan, step)}
    assert levels["Refugium"] == 100.0 and levels[shown.name] < 60.0
    assert most_share(plan) == pytest.approx(100 / 0.6)


@pytest.fixture
def dim(tank):
    """A coral under a lamp at full level that gives it far less than its kind wants."""
    make_lit_survey(tank, ppf_umol_s=20, taken_at=timezone.now() - dt.timedelta(days=20))
    return make_coral(tank, at_cm=(30, 30, 35))


def test_a_target_is_filled_in_as_far_as_the_lamps_reach(as_user, owner, dim):
    page = as_user(owner).get(reverse("acclimation_new", args=[dim.pk]))
    filled = float(page.context["form"]["target_umol"].value())
    assert filled == page.context["most_umol"] < page.context["band"].low_umol
    assert filled <= page.context["now_umol"] and 'id="most-light"' in page.content.decode()


def test_steps_to_a_target_as_filled_in_can_be_made(as_user, owner, dim):
    client, address = as_user(owner), reverse("acclimation_new", args=[dim.pk])
    form = client.get(address).context["form"]
    typed = {name: form[name].value() for name in form.fields if name not in ("waits", "text")}
    assert client.post(address, typed | {"look": "1", "text": ""}).status_code == 200


@pytest.mark.parametrize(("wish", "filled"), [("", "1"), ("?factor=0.8", "0.8")])
def test_a_whole_tank_starts_from_what_the_lamps_reach(as_user, owner, dim, wish, filled):
    page = as_user(owner).get(reverse("acclimation_tank_new", args=[dim.tank_id]) + wish)
    assert page.context["form"]["factor"].value() == filled
    assert ('id="most-light"' in page.content.decode()) == (wish == "")


def test_a_target_within_reach_is_the_middle_of_the_band(as_user, owner, tank):
    make_lit_survey(tank, ppf_umol_s=400, taken_at=timezone.now() - dt.timedelta(days=20))
    coral = make_coral(tank, at_cm=(30, 30, 15))
    page = as_user(owner).get(reverse("acclimation_new", args=[coral.pk]))
    band = page.context["band"]
    assert (
        float(page.context["form"]["target_umol"].value()) == (band.low_umol + band.high_umol) / 2
    )
    assert 'id="most-light"' not in page.content.decode()
