"""Acclimation plans in the app: made, ticked off, dated anew, taken away and back."""

import datetime as dt
import math
import re
from types import SimpleNamespace
from urllib.parse import parse_qs, urlsplit

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.planning.acclimation.limiting_coral import limiting_first
from apps.planning.acclimation.step_settings import NEAREST_CM, height_column
from apps.planning.models import Acclimation
from apps.planning.what_if.live_light import live_light
from tests.factories import (
    make_acclimation,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_note,
    make_rock,
    make_tick,
)


def surveyed(tank, **overrides):
    """Make a coral in a tank whose rig and light are known."""
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    return make_coral(tank, **overrides)


def typed(**overrides):
    return {
        "start_umol": "200", "target_umol": "300", "means": "level", "pace": "fast",
        "rate_percent": "15", "every_days": "3", "starts_on": "2026-12-01", "text": "",
    } | overrides  # fmt: skip


def post_new(client, coral, **overrides):
    return client.post(reverse("acclimation_new", args=[coral.pk]), typed(**overrides))


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_make_a_plan(request, as_user, tank, reader, status):
    coral = surveyed(tank)
    client = as_user(request.getfixturevalue(reader))
    assert client.get(reverse("acclimation_new", args=[coral.pk])).status_code == status
    assert client.get(reverse("acclimation_tank_new", args=[tank.pk])).status_code == status


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_see_a_plan(request, as_user, tank, reader, status):
    plan = make_acclimation(make_coral(tank))
    client = as_user(request.getfixturevalue(reader))
    for name, pk in [("acclimation_detail", plan.pk), ("acclimation_list", tank.pk)]:
        assert client.get(reverse(name, args=[pk])).status_code == status
    address = reverse("acclimation_of_coral", args=[plan.coral_id])
    assert client.get(address, headers={"HX-Request": "true"}).status_code == status


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 302), ("co_keeper", 302), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_tick_edit_and_remove(request, as_user, tank, reader, status):
    plan = make_acclimation(make_coral(tank))
    client = as_user(request.getfixturevalue(reader))
    today = tank.today().isoformat()
    tick = reverse("acclimation_tick", args=[plan.pk, 1])
    assert client.post(tick, {"done_on": today}).status_code == status
    edit = reverse("acclimation_edit", args=[plan.pk])
    dates = {"starts_on": today, "every_days": "4", "text": ""}
    assert client.post(edit, dates).status_code == status
    assert client.post(reverse("acclimation_remove", args=[plan.pk])).status_code == status


def test_a_plan_by_level_is_saved_with_its_steps(as_user, owner, tank):
    coral = surveyed(tank)
    assert post_new(as_user(owner), coral).status_code == 303
    plan = Acclimation.objects.get()
    lights = [step.light_umol for step in plan.steps.all()]
    assert lights == sorted(lights)
    assert lights[-1] == 300
    assert plan.rig[0]["height_cm"] == 20


def test_steps_are_shown_before_anything_is_saved(as_user, owner, tank):
    page = post_new(as_user(owner), surveyed(tank), look="1")
    assert "Panel at" in page.content.decode()
    assert not Acclimation.objects.exists()


def test_more_light_than_full_level_gives_is_refused_with_what_would_do(as_user, owner, tank):
    page = post_new(as_user(owner), surveyed(tank), target_umol="1500")
    assert page.status_code == 422
    (problem,) = page.context["form"].non_field_errors()
    assert 0 < int(re.search(r"PAR (\d+)", problem)[1]) < 1500
    assert 'value="1500"' in page.content.decode()


def test_lowering_counts_from_the_lower_edge_of_a_tilted_fixture(tank):
    """20 cm deep and tilted by 30 degrees, its edge hangs 5 cm below its middle at 20 cm."""
    coral = surveyed(tank)
    live = live_light(tank, timezone.now())
    spot = coral.spot_on(tank.today())
    point = [[spot.x_cm, spot.y_cm, spot.depth_cm]]
    lowest = []
    for tilt in (0, 30):
        live.rows[0].tilt_deg = tilt
        lowest.append(20 + height_column(point, live).setting.min())
    assert lowest == pytest.approx([NEAREST_CM, NEAREST_CM + 5])


@pytest.mark.parametrize("means", ["height", "depth"])
def test_height_and_depth_steps_come_down_to_the_target(as_user, owner, tank, means):
    coral = surveyed(tank)
    assert post_new(as_user(owner), coral, means=means, target_umol="280").status_code == 303
    settings = [step.setting for step in Acclimation.objects.get().steps.all()]
    assert settings == sorted(settings, reverse=True)


def test_depth_steps_end_where_the_map_has_the_target(as_user, owner, tank):
    from apps.planning.what_if.live_light import live_light

    coral = surveyed(tank)
    post_new(as_user(owner), coral, means="depth", target_umol="280")
    last = Acclimation.objects.get().steps.last()
    par = live_light(tank, timezone.now()).now_at([[30, 30, last.setting]]).par_umol[0]
    # Between tried depths log light is taken as straight.
    assert par == pytest.approx(280, rel=0.01)


def test_daily_light_is_taken_as_a_start(as_user, owner, tank):
    # 9 hours of full light: 2 mol are 2 / (9 x 0.0036) = 61.7 umol.
    post_new(as_user(owner), surveyed(tank), start_umol="2 mol")
    assert Acclimation.objects.get().start_umol == pytest.approx(61.73, abs=0.01)


def test_a_coral_without_a_spot_is_asked_for_one(as_user, owner, tank):
    coral = surveyed(tank, at_cm=None)
    page = as_user(owner).get(reverse("acclimation_new", args=[coral.pk]))
    assert reverse("spot_new", args=[coral.pk]) in page.content.decode()


@pytest.mark.parametrize(
    ("at_cm", "surveyed_too", "rock", "lacks", "leads_to"),
    [
        (None, True, False, "spot", "coral_list"),
        (None, False, False, "spot", "coral_list"),
        ((30, 30, 25), False, False, "map", "survey_list"),
        ((30, 30, 25), True, True, "rock", "coral_list"),
    ],
)
def test_a_whole_tank_is_told_what_lacks(
    as_user, owner, tank, at_cm, surveyed_too, rock, lacks, leads_to
):
    if surveyed_too:
        make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    make_coral(tank, at_cm=at_cm)
    if rock:
        make_rock(tank, x_cm=20, y_cm=20, depth_cm=20, length_cm=20, width_cm=20, height_cm=10)
    page = as_user(owner).get(reverse("acclimation_tank_new", args=[tank.pk]))
    main = page.content.decode().split('class="empty"')[1].split("</main>")[0]
    assert page.context["lacks"] == lacks and reverse(leads_to, args=[tank.pk]) in main


def test_a_whole_tank_is_led_by_the_coral_that_rises_most(as_user, owner, tank):
    surveyed(tank, name="Settled one")
    since = tank.today() - dt.timedelta(days=40)
    mover = make_coral(tank, name="Mover", at_cm=(30, 30, 45), since=since)
    mover.spots.create(x_cm=30, y_cm=30, depth_cm=10, since=tank.today() - dt.timedelta(days=2))
    address = reverse("acclimation_tank_new", args=[tank.pk])
    fields = typed(factor="1") | {"look": "1"}
    page = as_user(owner).post(address, fields).content.decode()
    assert "<strong>Mover</strong> sets the pace" in page
    fields.pop("look")
    assert as_user(owner).post(address, fields).status_code == 303
    assert Acclimation.objects.get().coral == mover


def test_a_whole_tank_ramp_keeps_the_rate_for_every_coral(tank):
    from apps.planning.acclimation.limiting_coral import coral_targets
    from apps.planning.what_if.live_light import live_light

    surveyed(tank, name="Settled one")
    mover = make_coral(tank, name="Mover", at_cm=(30, 30, 45))
    mover.spots.create(x_cm=30, y_cm=30, depth_cm=10, since=tank.today() - dt.timedelta(days=2))
    ways = coral_targets(tank, live_light(tank, timezone.now()), factor=1.3)
    # The leader's first step is at most (1 + rate) times what it is used to; the same share of
    # now is for each other coral no further from what that one is used to.
    share = 1.15 * ways[0].acclimated_umol / ways[0].now_umol
    assert all(share * way.now_umol <= 1.15 * way.acclimated_umol * (1 + 1e-9) for way in ways)


def test_a_tick_offers_the_light_change_filled_in(as_user, owner, tank):
    coral = surveyed(tank)
    post_new(as_user(owner), coral, starts_on=tank.today().isoformat())
    plan = Acclimation.objects.get()
    today = tank.today().isoformat()
    client = as_user(owner)
    client.post(reverse("acclimation_tick", args=[plan.pk, 1]), {"done_on": today})
    page = client.get(reverse("acclimation_detail", args=[plan.pk]))
    url = page.context["page"].enter_url
    level = math.floor(plan.steps.first().setting)
    assert float(parse_qs(urlsplit(url).query)["hung-0-level_percent"][0]) == level
    form = client.get(url).content.decode()
    assert "Acclimation, step 1" in form
    assert f'value="{level:.4g}"' in form


def test_a_tick_of_a_depth_step_offers_the_move_filled_in(as_user, owner, tank):
    coral = surveyed(tank)
    client = as_user(owner)
    post_new(client, coral, means="depth", target_umol="280", starts_on=tank.today().isoformat())
    plan = Acclimation.objects.get()
    tick = reverse("acclimation_tick", args=[plan.pk, 1])
    page = client.post(tick, {"done_on": tank.today().isoformat()}, follow=True)
    form = client.get(page.context["page"].enter_url)
    assert form.context["form"].instance.depth_cm == pytest.approx(
        plan.steps.first().setting, abs=0.06
    )


def test_a_step_is_refused_before_its_day(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank), starts_days_ago=1)
    make_tick(plan, 1, days_ago=1)
    tick = reverse("acclimation_tick", args=[plan.pk, 2])
    page = as_user(owner).post(tick, {"done_on": tank.today().isoformat()})
    assert page.status_code == 422
    assert "Too soon" in page.content.decode()


def test_a_double_tap_takes_one_step(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank))
    tick, fields = reverse("acclimation_tick", args=[plan.pk, 1]), {"done_on": tank.today()}
    as_user(owner).post(tick, fields)
    assert as_user(owner).post(tick, fields).status_code == 422
    assert plan.ticks.count() == 1


def test_dates_edited_never_make_the_plan_shorter_than_its_pace(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank), pace="slow", every_days=14)
    edit = reverse("acclimation_edit", args=[plan.pk])
    fields = {"starts_on": tank.today(), "every_days": "2", "text": ""}
    page = as_user(owner).post(edit, fields)
    assert page.status_code == 422
    (problem,) = page.context["form"].errors["every_days"]
    assert "14 days" in problem and problem in page.content.decode()


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_a_first_day_no_calendar_holds_is_told(as_user, owner, tank, day):
    plan = make_acclimation(make_coral(tank))
    fields = {"starts_on": day, "every_days": "3", "text": ""}
    page = as_user(owner).post(reverse("acclimation_edit", args=[plan.pk]), fields)
    assert page.status_code == 422 and "starts_on" in page.context["form"].errors


def test_the_list_reads_the_notes_of_all_plans_at_once(
    as_user, owner, tank, django_assert_max_num_queries
):
    for name in "abcdefgh":
        coral = make_coral(tank, name=name)
        make_acclimation(coral)
        make_note(coral)
    client = as_user(owner)
    with django_assert_max_num_queries(10):
        page = client.get(reverse("acclimation_list", args=[tank.pk]))
    assert page.content.decode().count("was noted paling") == 8


def test_a_tick_can_be_taken_back(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank))
    tick = make_tick(plan, 1)
    as_user(owner).post(reverse("acclimation_untick", args=[tick.pk]))
    assert not plan.ticks.exists()


def test_only_the_newest_tick_can_be_taken_back(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank), starts_days_ago=9)
    first = make_tick(plan, 1, days_ago=9)
    make_tick(plan, 2, days_ago=3)
    as_user(owner).post(reverse("acclimation_untick", args=[first.pk]))
    assert plan.ticks.count() == 2


def test_a_plan_taken_away_comes_back(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank))
    as_user(owner).post(reverse("acclimation_remove", args=[plan.pk]))
    as_user(owner).post(reverse("acclimation_restore", args=[plan.pk]))
    assert Acclimation.objects.visible_to(owner).get() == plan


def test_no_plan_is_called_safe(as_user, owner, tank):
    coral = surveyed(tank)
    plan = make_acclimation(coral)
    client = as_user(owner)
    for address in (
        reverse("acclimation_new", args=[coral.pk]),
        reverse("acclimation_detail", args=[plan.pk]),
    ):
        assert "safe" not in client.get(address).content.decode().lower()


def test_the_light_used_to_lags_behind_a_change(tank):
    from apps.planning.acclimation.acclimated_light import acclimated_par
    from apps.planning.what_if.live_light import live_light

    coral = surveyed(tank)
    make_light_change(tank, factor=0.5, happened_at=timezone.now() - dt.timedelta(days=2))
    live = live_light(tank, timezone.now())
    used = acclimated_par([coral], live.light, timezone.now(), tank.zone)[coral.pk]
    now_umol = live.now_at([[30, 30, 25]]).par_umol[0]
    assert now_umol * 1.5 < used < now_umol * 2


def test_a_tick_of_today_is_entered_at_a_time_that_has_passed(as_user, owner, tank):
    plan = make_acclimation(make_coral(tank))
    client = as_user(owner)
    client.post(reverse("acclimation_tick", args=[plan.pk, 1]), {"done_on": tank.today()})
    page = client.get(reverse("acclimation_detail", args=[plan.pk]))
    told = parse_qs(urlsplit(page.context["page"].enter_url).query)["happened_at"][0]
    assert dt.datetime.fromisoformat(told).replace(tzinfo=tank.zone) <= timezone.now()


def test_going_back_before_the_first_step_says_what_to_set(as_user, owner, tank):
    coral = make_coral(tank)
    # Lights 100, 120, 144, 170 by level: before the first step 100 / 170 of the level.
    rig = [{"number": 1, "level_percent": 85.0, "height_cm": 20.0}]
    plan = make_acclimation(coral, starts_days_ago=1, rig=rig)
    make_tick(plan, 1, days_ago=1)
    make_note(coral)
    client = as_user(owner)
    page = client.get(reverse("acclimation_detail", args=[plan.pk]))
    following = page.context["page"].following
    assert following.goes_back and following.next_number == 0
    assert "lights at 50\u00a0%" in page.content.decode()
    client.post(reverse("acclimation_tick", args=[plan.pk, 0]), {"done_on": tank.today()})
    page = client.get(reverse("acclimation_detail", args=[plan.pk]))
    assert page.context["page"].enter_url


def test_rounding_does_not_choose_who_leads():
    names = ("Zeta", "Alpha", "Mid")
    ratios = (1.0, 1.0 + 1e-12, 1.0 - 1e-12)
    targets = [SimpleNamespace(ratio=r, coral=SimpleNamespace(name=n))
               for n, r in zip(names, ratios, strict=True)]  # fmt: skip
    assert [t.coral.name for t in limiting_first(targets)] == ["Alpha", "Mid", "Zeta"]


@pytest.mark.parametrize(("ratios", "leader"), [((1.2, 1.5), "B"), ((0.9, 0.6), "B")])
def test_the_coral_whose_light_goes_furthest_leads(ratios, leader):
    targets = [SimpleNamespace(ratio=r, coral=SimpleNamespace(name=n))
               for n, r in zip("AB", ratios, strict=True)]  # fmt: skip
    assert limiting_first(targets)[0].coral.name == leader
