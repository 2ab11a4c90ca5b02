"""From an answer to a light change: the form comes filled, and hangs what was planned."""

import pytest
from django.urls import reverse

from apps.lighting.models import Fixture, LightChange
from apps.planning.layout.searching import advance_search, searched_plan
from tests.factories import hang, make_fixture, make_light_change
from tests.planning.questions import make_layout_plan
from tests.planning.what_ifs import fields_of


@pytest.fixture
def plan(owner, tank):
    plan = make_layout_plan(owner, tank)
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    return plan


def filled_form(client, plan):
    """Return the fields of the light-change form that hanging answer 1 leads to."""
    return fields_of(client.post(reverse("layout_hang", args=[plan.pk, 1]), follow=True))


def test_what_was_planned_hangs_once_the_form_is_saved(as_user, owner, tank, plan):
    client, layout = as_user(owner), searched_plan(plan).answers[0].layout
    client.post(reverse("light_change_new", args=[tank.pk]), filled_form(client, plan))
    hung = list(LightChange.objects.get().hung.all())
    assert [(row.x_cm, row.y_cm) for row in hung] == list(layout.places_cm)
    assert {row.height_cm for row in hung} == {layout.height_cm}
    assert {row.level_percent for row in hung} == {round(100 * layout.levels[0])}


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
