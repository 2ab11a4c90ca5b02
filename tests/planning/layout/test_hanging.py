"""From an answer to a light change: the form comes filled, and hangs what was planned."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.history import light_history
from apps.lighting.models import Fixture, LightChange
from apps.lightmap.lightmap import tank_light
from apps.planning.acclimation.acclimated_light import acclimated_par
from apps.planning.layout import start_level as start_level_module
from apps.planning.layout.hanging_answer import nearest
from apps.planning.layout.searching import advance_search, searched_plan
from apps.planning.layout.start_level import start_level
from apps.planning.stored_layout import read_question
from tests.factories import (
    hang,
    make_coral,
    make_fixture,
    make_light_change,
    make_lit_survey,
)
from tests.planning.questions import make_layout_plan
from tests.planning.what_ifs import fields_of


def answered(plan):
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    return plan


@pytest.fixture
def plan(owner, tank):
    return answered(make_layout_plan(owner, tank))


def filled_form(client, plan):
    """Return the fields of the light-change form that hanging answer 1 leads to."""
    return fields_of(client.post(reverse("layout_hang", args=[plan.pk, 1]), follow=True))


def test_what_was_planned_hangs_once_the_form_is_saved(as_user, owner, tank, plan):
    client, layout = as_user(owner), searched_plan(plan).answers[0].layout
    client.post(reverse("light_change_new", args=[tank.pk]), filled_form(client, plan))
    hung = list(LightChange.objects.get().hung.all())
    assert [(row.x_cm, row.y_cm) for row in hung] == list(layout.places_cm)
    assert {row.height_cm for row in hung} == {layout.height_cm}
    # At half: nobody knows what any coral here is used to.
    assert {row.level_percent for row in hung} == {round(50 * layout.levels[0])}


def test_a_tank_without_hours_of_light_gets_those_of_the_plan(as_user, owner, tank, plan):
    client = as_user(owner)
    client.post(reverse("light_change_new", args=[tank.pk]), filled_form(client, plan))
    day = light_history(tank).schedule_at(timezone.now())
    assert day.full_hours == pytest.approx(read_question(plan.asked).day_hours)
    # Once it has a day of its own, that stays.
    make_light_change(tank, day_hours=6, ramp_hours=0, happened_at=timezone.now())
    assert filled_form(client, plan)["day_hours"] == "6"


def test_a_coral_whose_light_is_known_keeps_it_at_the_start(as_user, owner, tank):
    make_lit_survey(tank, ppf_umol_s=30, taken_at=timezone.now() - dt.timedelta(days=60))
    coral = make_coral(tank)
    plan = answered(make_layout_plan(owner, tank))
    stored, layout = read_question(plan.asked), searched_plan(plan).answers[0].layout
    start = start_level(tank, stored.question, layout, timezone.now())
    used = acclimated_par([coral], tank_light(tank), timezone.now(), tank.zone)[coral.pk]
    assert start.coral == coral and start.acclimated_umol == pytest.approx(used)
    assert 0.1 < start.share < 1.0
    assert start.share == pytest.approx(used / start.planned_umol)
    fields = filled_form(as_user(owner), plan)
    assert float(fields["hung-0-level_percent"]) == start.percent(layout.levels[0])


@pytest.mark.parametrize(("part", "share"), [(0.05, 0.1), (0.15, 0.15), (3.0, 1.0)])
def test_a_start_is_no_less_than_a_tenth_and_no_more_than_all(
    owner, tank, plan, monkeypatch, part, share
):
    coral = make_coral(tank)
    stored, layout = read_question(plan.asked), searched_plan(plan).answers[0].layout
    used = {coral.pk: 1.0}
    monkeypatch.setattr(start_level_module, "acclimated_par", lambda *args: used)
    planned = start_level(tank, stored.question, layout, timezone.now()).planned_umol
    used[coral.pk] = part * planned
    start = start_level(tank, stored.question, layout, timezone.now())
    assert start.share == pytest.approx(share) and start.rises == (share < 1.0)


def test_the_rise_from_the_start_is_planned_next(as_user, owner, tank, plan):
    page = as_user(owner).get(reverse("layout_answer", args=[plan.pk, 1]))
    address = reverse("acclimation_tank_new", args=[tank.pk])
    assert page.context["start"].factor == 2.0
    assert f'href="{address}?factor=2.000"' in page.content.decode()


def test_what_hangs_moves_to_the_nearest_place(owner, tank):
    own = make_fixture(owner, name="One of two")
    change = make_light_change(tank)
    left, right = (hang(change, own, x_cm=x, y_cm=30) for x in (15, 45))
    assert nearest(((44.0, 30.0), (14.0, 30.0)), [left, right]) == [right, left]
    # One too many stays for what comes down, the farther of them.
    assert nearest(((40.0, 30.0),), [left, right]) == [right]
    assert nearest(((40.0, 30.0), (10.0, 30.0)), [right]) == [right, None]
    assert nearest(((40.0, 30.0),), []) == [None]


def test_nothing_hangs_before_the_form_is_saved(as_user, owner, plan):
    filled_form(as_user(owner), plan)
    assert not LightChange.objects.exists()


def test_a_generic_kind_is_put_into_the_library_once(as_user, owner, plan):
    client = as_user(owner)
    filled_form(client, plan)
    filled_form(client, plan)
    fixture = Fixture.objects.get()
    assert (fixture.owner, fixture.name, fixture.ppf_umol_s) == (owner, "Mid-power panel", 60)


def test_what_hung_before_comes_down(as_user, owner, tank, plan):
    hang(make_light_change(tank), make_fixture(owner, name="The old one"))
    client = as_user(owner)
    client.post(reverse("light_change_new", args=[tank.pk]), filled_form(client, plan))
    newest = LightChange.objects.order_by("-pk").first()
    assert {row.name for row in newest.hung.all()} == {"Mid-power panel"}


def test_a_fixture_that_hangs_already_is_moved(as_user, owner, tank, plan):
    own = make_fixture(owner, name="Mid-power panel", ppf_umol_s=60, watts=45, beam_deg=110)
    before = hang(make_light_change(tank), own, x_cm=10, height_cm=40)
    client = as_user(owner)
    client.post(reverse("light_change_new", args=[tank.pk]), filled_form(client, plan))
    row = LightChange.objects.order_by("-pk").first().hung.get(number=before.number)
    assert row.fixture == own and row.height_cm < 40


def test_a_plan_without_a_tank_has_nowhere_to_hang(as_user, owner):
    plan = make_layout_plan(owner)
    advance_search(plan=plan, seconds=60)
    assert as_user(owner).post(reverse("layout_hang", args=[plan.pk, 1])).status_code == 404


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 302), ("co_keeper", 302), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_hang(request, as_user, plan, reader, status):
    client = as_user(request.getfixturevalue(reader))
    assert client.post(reverse("layout_hang", args=[plan.pk, 1])).status_code == status
