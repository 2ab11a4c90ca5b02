"""The demo scenario: it loads, holds together, tells its story and is the same every time."""

import pytest
from django.core.management import CommandError, call_command

from apps.corals.models import HealthNote
from apps.lighting.models import LightChange
from apps.photics.ground.scene import Fixture as SceneFixture
from apps.photics.ground.scene import Tank as SceneTank
from apps.surveys.models import Reading, Survey
from apps.tanks.models import Tank
from reeflog.demo import demo_keeper, load_demo, remove_demo
from reeflog.demo_light import ray_light, true_par
from tests.factories import make_tank

pytestmark = pytest.mark.one_database


@pytest.fixture
def keeper(scenario, db):
    return scenario


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


def test_two_loads_give_the_same(keeper):
    once = everything_told()
    remove_demo()
    load_demo()
    assert everything_told() == once


def test_command_refuses_a_second_load(keeper):
    with pytest.raises(CommandError, match="--replace"):
        call_command("load_demo")


def test_replace_begins_anew_leaves_others_alone_and_tells_how_to_sign_in(keeper, capsys):
    other = make_tank()
    call_command("load_demo", replace=True)
    assert demo_keeper().pk != keeper.pk
    assert Tank.objects.count() == 3 and Tank.objects.filter(pk=other.pk).exists()
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
