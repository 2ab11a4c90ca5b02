"""The demo scenario: it loads, holds together, tells its story and is the same every time."""

import re

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Coral, HealthNote
from apps.lighting.history import light_history
from apps.lighting.models import LightChange
from apps.outcomes.correlation import tank_outcomes
from apps.photics.scene import Fixture as SceneFixture
from apps.photics.scene import Tank as SceneTank
from apps.surveys.models import Reading, Survey
from apps.tanks.models import Tank
from reeflog.demo import demo_keeper, load_demo, remove_demo
from reeflog.demo_light import ray_light, true_par
from tests.factories import make_tank
from tests.test_rooms import ROOMS


@pytest.fixture
def keeper(db):
    return load_demo()


def tank_named(name):
    return Tank.objects.get(name=name)


def everything_told():
    """Return all that is seen on the screens, without keys and times of loading."""
    return [
        list(Reading.objects.order_by("pk").values_list("x_cm", "y_cm", "depth_cm", "value_umol")),
        list(HealthNote.objects.order_by("pk").values_list("noted_on", "seen", "text")),
        list(LightChange.objects.order_by("pk").values_list("happened_at", "factor", "summary")),
        list(Survey.objects.order_by("pk").values_list("taken_at", "light_note")),
    ]


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


def test_two_loads_give_the_same(keeper):
    once = everything_told()
    remove_demo()
    load_demo()
    assert everything_told() == once


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
    event = tank_outcomes(tank).events[0].event
    assert reverse("outcome_detail", args=[tank.pk, event.pk]) in found


def test_paled_coral_had_more_light_and_was_above_its_band(keeper):
    (event,) = tank_outcomes(tank_named("Harbour cube")).events
    assert event.event.verb == "paled"
    assert event.since_weeks_6.par_ratio == pytest.approx(1.4)
    assert event.place.state == "above"


def test_browned_coral_sat_below_its_band(keeper):
    (event,) = tank_outcomes(tank_named("The long shelf")).events
    assert event.event.verb == "browned"
    assert (event.place.state, event.place.sure) == ("below", True)


def test_friend_may_look_but_not_sign_in(keeper):
    friend = tank_named("Harbour cube").memberships.get().user
    assert not friend.has_usable_password()


def test_command_refuses_a_second_load(keeper):
    with pytest.raises(CommandError, match="--replace"):
        call_command("load_demo")


def test_replace_begins_anew_and_leaves_others_alone(keeper):
    other = make_tank()
    call_command("load_demo", replace=True, verbosity=0)
    assert demo_keeper().pk != keeper.pk
    assert Tank.objects.count() == 3 and Tank.objects.filter(pk=other.pk).exists()


def test_load_tells_how_to_sign_in(db, capsys):
    call_command("load_demo")
    assert "maren@example.org" in capsys.readouterr().out


# --- The light of the demo ------------------------------------------------------------------


def test_light_below_a_lamp_is_the_law_of_flat_refraction():
    # Straight below, a source h over the water seen from depth z shines as from h + z / n.
    light, _ = ray_light(0.0, height_cm=20.0, depth_cm=13.4, beam_deg=90.0)
    lobe = (2 + 1) / (2 * 3.141592653589793)
    expected = lobe * 1e4 / (20.0 + 10.0) ** 2
    # The way through the water takes exp(-0.004 x 13.4).
    assert light == pytest.approx(expected * 0.94782, rel=1e-3)


def test_light_is_linear_in_level():
    tank = SceneTank(45, 45, 40)
    lamp = {"x_cm": 22, "y_cm": 22, "height_cm": 20, "beam_deg": 90, "panel_x_cm": 10,
            "panel_y_cm": 10}  # fmt: skip
    full, half = (
        true_par([(20, 20, 20)], tank=tank, fixtures=[SceneFixture(**lamp, level=level)],
                 ppf_umol_s=100.0)
        for level in (1.0, 0.5)
    )  # fmt: skip
    assert half == pytest.approx(full / 2)


@pytest.mark.parametrize("name", ["Harbour cube", "The long shelf"])
def test_maps_of_the_demo_are_carried_by_its_fixtures(as_user, keeper, name):
    tank = tank_named(name)
    sheet = as_user(keeper).get(reverse("light_map", args=[tank.pk])).context["sheet"]
    assert sheet.rig and not sheet.fitted.field.guessed
    assert sheet.summary.method.startswith("the light of your fixtures")
    assert len(sheet.disagreeing) < len(sheet.rows) / 10


def test_the_shelf_is_on_its_way_to_a_fifth_more_light(keeper):
    plan = tank_named("The long shelf").acclimations.get()
    assert plan.whole_tank
    assert plan.steps.last().setting == pytest.approx(120, abs=0.5)


def test_the_demo_has_a_layout_searched_to_the_end(keeper, as_user):
    plan = keeper.plans.get()
    page = as_user(keeper).get(reverse("layout_detail", args=[plan.pk])).content.decode()
    assert plan.answer["finished"] and "Square panel" in page
