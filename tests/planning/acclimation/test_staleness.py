"""A plan of another day's light or of another rig gives no orders: it is planned anew."""

import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of, notes_of
from apps.planning.acclimation.following import PAUSED, RISING, STALE
from apps.planning.acclimation.reminders import acclimation_reminders
from apps.planning.acclimation.staleness import BY_RIG, BY_TIME, STALE_DAYS
from apps.planning.acclimation.step_back import before_first
from apps.planning.acclimation.steps_calendar import days_of
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
    make_note,
    make_tick,
)

EVERY_DAYS = 3


@pytest.fixture
def coral(tank):
    return make_coral(tank, name="Stag")


@pytest.fixture
def lamp(tank):
    begun = make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=400), factor=1)
    return hang(begun, name="Panel", level_percent=80.0)


def rig_of(*rows):
    names = ("number", "name", *HungFixture.SETTINGS)
    return [{name: getattr(row, name) for name in names} for row in rows]


def reset(lamp, **settings):
    """Enter a change of a day ago that sets the lamp otherwise."""
    change = make_light_change(
        lamp.change.tank, happened_at=timezone.now() - dt.timedelta(days=1), factor=1
    )
    same = {n: getattr(lamp, n) for n in ("number", *HungFixture.SETTINGS)}
    return hang(change, lamp.fixture, **(same | {"told": list(settings)} | settings))


def standing(plan):
    plan = Acclimation.objects.with_all().get(pk=plan.pk)
    rows = rig_in_force(plan.tank, timezone.now())
    return following_of(plan, notes_of(plan), rows)


@pytest.mark.parametrize(("over", "state"), [(0, RISING), (1, STALE)])
def test_a_plan_left_alone_goes_stale_after_its_step_stood_open_so_long(coral, over, state):
    days = STALE_DAYS + EVERY_DAYS + over
    assert standing(make_acclimation(coral, starts_days_ago=days)).state == state
    stepped = make_acclimation(coral, starts_days_ago=days + 60)
    make_tick(stepped, 1, days_ago=days)
    assert standing(stepped).state == state


def test_an_arrived_plan_never_goes_stale(coral):
    plan = make_acclimation(coral, lights=(100, 110), starts_days_ago=300)
    make_tick(plan, 1, days_ago=300)
    assert standing(plan).state == "arrived"


def test_a_well_note_ten_months_on_lifts_no_pause(as_user, owner, tank, coral):
    plan = make_acclimation(coral, starts_days_ago=310)
    make_tick(plan, 1, days_ago=305)
    make_note(coral, noted_on=tank.today() - dt.timedelta(days=303), seen="paling")
    make_note(coral, noted_on=tank.today(), seen="well")
    found = standing(plan)
    assert (found.state, found.stale_by, found.next_number) == (STALE, BY_TIME, None)
    client = as_user(owner)
    page = client.get(reverse("acclimation_detail", args=[plan.pk]))
    assert page.context["page"].next_words == "" and page.context["page"].ends_on is None
    assert reverse("acclimation_new", args=[coral.pk]) in page.content.decode()
    # The step can't be ticked by a page kept open either.
    tick = reverse("acclimation_tick", args=[plan.pk, 2])
    assert client.post(tick, {"done_on": tank.today().isoformat()}).status_code == 422


@pytest.mark.parametrize(
    "changed", [{"height_cm": 30.0}, {"x_cm": 10.0}, {"beam_deg": 60.0}, {"level_percent": 33.0}]
)
def test_a_changed_rig_makes_it_stale_at_once(tank, coral, lamp, changed):
    plan = make_acclimation(coral, starts_days_ago=2, rig=rig_of(lamp))
    make_note(coral, noted_on=tank.today(), seen="paling")
    assert standing(plan).state == PAUSED
    reset(lamp, **changed)
    assert standing(plan).stale_by == BY_RIG


def test_a_lamp_more_makes_it_stale(coral, lamp):
    plan = make_acclimation(coral, starts_days_ago=2, rig=rig_of(lamp))
    hang(lamp.change, number=2)
    assert standing(plan).stale_by == BY_RIG


@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_its_own_steps_entered_in_the_log_are_no_other_rig(coral, lamp, number):
    plan = make_acclimation(coral, starts_days_ago=2, rig=rig_of(lamp))
    steps = list(plan.steps.all())
    step = [before_first(plan, steps), *steps][number]
    reset(lamp, level_percent=round(80.0 * step.setting / 100.0, 1))
    assert standing(plan).state == RISING


def test_tank_and_calendar_tell_a_stale_plan_and_no_step(tank, coral):
    plan = make_acclimation(coral, starts_days_ago=300)
    (reminder,) = acclimation_reminders(tank, timezone.now())
    assert "Out of date" in reminder.title and reminder.due_on < tank.today()
    ((_, day, words),) = days_of(plan, [], [], unit="cm")
    assert "Out of date" in words and day == reminder.due_on


@pytest.mark.parametrize(
    ("reader", "status", "offers"),
    [("owner", 200, True), ("viewer", 200, False), ("stranger", 404, False)],
)
def test_who_is_offered_a_new_plan(request, as_user, tank, coral, reader, status, offers):
    plan = make_acclimation(coral, starts_days_ago=300)
    page = as_user(request.getfixturevalue(reader)).get(
        reverse("acclimation_detail", args=[plan.pk])
    )
    assert page.status_code == status
    assert (reverse("acclimation_new", args=[coral.pk]) in page.content.decode()) == offers


def test_a_step_names_its_lamp(coral, lamp):
    bar = hang(
        lamp.change, make_fixture(coral.tank.owner, name="Bar"), level_percent=40.0, height_cm=33
    )
    twin = hang(lamp.change, lamp.fixture, level_percent=80.0)
    plan = make_acclimation(coral, rig=rig_of(lamp, bar, twin))
    facts = re.findall(r"Panel \d|Bar|\d+\u00a0%", setting_words(plan, 50.0, "cm"))
    assert facts == ["Panel 1", "Panel 3", "40\u00a0%", "Bar", "20\u00a0%"]
    plan.means = Acclimation.Means.HEIGHT
    assert setting_words(plan, 5.0, "cm").count("Bar") == 1


@pytest.mark.parametrize(("many", "named"), [(2, "both lamps"), (3, "all 3 lamps")])
def test_lamps_set_alike_are_not_named_one_by_one(coral, lamp, many, named):
    twins = [hang(lamp.change, lamp.fixture, level_percent=80.0) for _ in range(many - 1)]
    plan = make_acclimation(coral, rig=rig_of(lamp, *twins))
    assert setting_words(plan, 50.0, "cm") == f"{named} at 40\u00a0%"
    # One that is off is none of them.
    plan.rig[0]["level_percent"] = 0.0
    assert named not in setting_words(plan, 50.0, "cm")


def test_no_step_back_asks_for_more_than_full_level(coral, lamp):
    # It comes from twice the light these lights gave at 80 %.
    plan = make_acclimation(coral, lights=(400, 300, 200), rig=rig_of(lamp))
    first = before_first(plan, list(plan.steps.all()))
    assert first.setting == pytest.approx(125.0)
    assert 80.0 * first.setting / 100.0 == pytest.approx(100.0)
    assert first.light_umol == pytest.approx(250.0)


def test_daily_light_behind_the_par_it_is_used_to_is_told(as_user, owner, tank):
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    coral = make_coral(tank)
    full_hours = live_light(tank, timezone.now()).full_hours
    page = as_user(owner).get(reverse("acclimation_new", args=[coral.pk]))
    used, daily = page.context["used_umol"], page.context["used_dli"]
    assert daily == pytest.approx(used * full_hours * 3600 / 1e6)
    assert f"{daily:.1f}&nbsp;mol a day" in page.content.decode()
