"""A wished colour: asked, refused, and what each answer's channels make of it."""

import pytest
from django.urls import reverse

from apps.photics.layout.advice.spectrum_wish import SpectrumWish, colour_mix
from apps.planning.layout.fixtures.colour import at_level, kind_colour
from apps.planning.stored_layout import read_question
from tests.factories import make_fixture
from tests.photics.layout.test_spectrum_wish import RED, ROYAL
from tests.planning.layout.test_hanging import answered
from tests.planning.questions import make_layout_plan, posted

pytestmark = pytest.mark.django_db
CHANNELS = [
    {"name": "Royal", "peak_nm": 450, "share_percent": 80},
    {"name": "Red", "peak_nm": 660, "share_percent": 20},
]
WISH = {"blue_to": "60"}


@pytest.fixture
def own(owner):
    return make_fixture(owner, ppf_umol_s=60, channels=CHANNELS)


def ask(client, tank, own, **fields):
    sent = posted(**({"fixture-0-source": f"own:{own.pk}"} | fields))
    return client.post(reverse("tank_layout_new", args=[tank.pk]), sent)


def test_wish_is_kept_with_the_plan_and_comes_back_into_the_form(as_user, owner, tank, own):
    client = as_user(owner)
    ask(client, tank, own, **WISH)
    plan = owner.plans.get()
    assert read_question(plan.asked).wish == SpectrumWish(blue=(0.0, 0.6))
    limits = client.get(reverse("layout_edit", args=[plan.pk])).context["forms"].limits
    assert (limits["blue_from"].value(), limits["blue_to"].value()) == (None, "60")
    assert limits.wishes_colour


@pytest.mark.parametrize(
    "fields",
    [
        {"blue_from": "70", "blue_to": "60"},
        {"blue_from": "60", "red_from": "50"},
        {"blue_to": "20", "green_to": "20", "red_to": "20"},
    ],
)
def test_colours_that_are_no_whole_light_are_refused(as_user, owner, tank, own, fields):
    response = ask(as_user(owner), tank, own, **fields)
    assert response.status_code == 422 and not owner.plans.exists()
    assert response.context["forms"].limits.errors["blue_from"]


@pytest.mark.parametrize("who", ["owner", "viewer"])
def test_answer_says_how_to_set_the_channels(request, as_user, owner, tank, own, who):
    ask(as_user(owner), tank, own, **WISH)
    plan = answered(owner.plans.get())
    client = as_user(request.getfixturevalue(who))
    page = client.get(reverse("layout_answer", args=[plan.pk, 1]))
    (kind,) = page.context["colours"]
    levels = dict(kind.levels)
    assert kind.name == own.name and 0 < levels["Royal"] < levels["Red"] <= 100
    assert "Royal" in page.content.decode()


def test_plan_without_a_wish_says_nothing_of_colour(as_user, owner, tank, own):
    ask(as_user(owner), tank, own)
    plan = answered(owner.plans.get())
    page = as_user(owner).get(reverse("layout_answer", args=[plan.pk, 1]))
    assert page.context["colours"] == ()


def test_stranger_sees_no_plan(as_user, stranger, owner, tank, own):
    ask(as_user(owner), tank, own, **WISH)
    plan = answered(owner.plans.get())
    assert as_user(stranger).get(reverse("layout_answer", args=[plan.pk, 1])).status_code == 404


@pytest.mark.parametrize(
    ("level", "kept", "levels"),
    # The mix leaves half of the light: 37.5 % of blue beside all of the red.
    [(0.25, 1.0, (19, 50)), (0.5, 1.0, (38, 100)), (1.0, 0.5, (38, 100))],
)
def test_a_planned_level_is_made_good_as_far_as_it_goes(level, kept, levels):
    mix = colour_mix([ROYAL, RED], (80.0, 20.0), SpectrumWish(blue=(0.0, 0.6)))
    part, shown = at_level(mix, level)
    assert part == pytest.approx(kept, abs=0.01)
    assert shown == pytest.approx(levels, abs=1)


def test_fixture_without_known_channels_says_so(owner, own):
    stored = read_question(make_layout_plan(owner).asked)
    asked = type(stored)(**(vars(stored) | {"wish": SpectrumWish(blue=(0.9, 1.0))}))
    unknown = kind_colour(asked, "Generic", None, 0.5)
    assert (unknown.known, unknown.levels) == (False, ())
    own.channels = [CHANNELS[1]]
    red = kind_colour(asked, "Red bar", own, 0.5)
    assert (red.known, red.levels) == (True, ()) and red.words != unknown.words
