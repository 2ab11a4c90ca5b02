"""Lids, screens, diffusers and dirt in the light log: a transmission stated or measured."""

import datetime as dt

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from apps.lighting.history import light_history
from apps.lighting.models import LightChange
from apps.lightmap.lightmap import tank_light
from apps.lightmap.logged_factors import guesses
from tests.factories import make_light_change, make_lit_survey

NOW = timezone.now()
SPOT = [(20.0, 20.0, 12.0)]
FORM = {"happened_at": "2026-05-03 10:00", "factor": "1", "reason": "cover", "ramp_hours": "0"}
LID = {"cover": "lid", "cover_done": "on", "cover_percent": "80"}
READ = {"cover": "screen", "cover_done": "on", "cover_without_umol": 200, "cover_with_umol": 150}


def covered(tank, days=3, **cover):
    happened_at = NOW - dt.timedelta(days=days)
    return make_light_change(
        tank, **({"happened_at": happened_at, "factor": 1, "reason": "cover"} | cover)
    )


@pytest.fixture
def surveyed(tank):
    make_lit_survey(tank, taken_at=NOW - dt.timedelta(days=10))
    return tank


def light(tank):
    return tank_light(tank).at(SPOT, NOW)[0]


@pytest.mark.parametrize(
    ("cover", "factor"),
    [
        ({"cover": "lid", "cover_done": "on", "cover_percent": 80}, 0.8),
        ({"cover": "lid", "cover_done": "off", "cover_percent": 80}, 1.25),
        (READ, 0.75),
        (READ | {"cover_done": "off"}, 200 / 150),
        (READ | {"cover_percent": 10}, 0.75),
        ({}, 1.0),
    ],
)
def test_a_cover_dims_by_what_it_passes(surveyed, cover, factor):
    before = light(surveyed)
    covered(surveyed, **cover)
    assert light(surveyed).par_umol == pytest.approx(factor * before.par_umol)


def test_a_measured_transmission_is_surer_than_a_guess(surveyed):
    """0.05 against 0.1 in the log: the interval grows by the squares of these."""
    own = light(surveyed)
    covered(surveyed, **READ)
    read = light(surveyed)
    surveyed.light_changes.filter(reason="cover").update(cover="", factor=0.75)
    guess = light(surveyed)
    widths = [np.log(spot.high_umol / spot.par_umol) for spot in (own, read, guess)]
    assert widths[1] == pytest.approx(np.hypot(widths[0], 1.645 * 0.05))
    assert widths[2] == pytest.approx(np.hypot(widths[0], 1.645 * 0.10))


def test_a_diffuser_leaves_more_unsure_than_a_lid(surveyed):
    """Its spread moves the light between places, by 0.2 in the log besides what it passes."""
    own = light(surveyed)
    covered(surveyed, **READ | {"cover": "diffuser"})
    spread = light(surveyed)
    widths = [np.log(spot.high_umol / spot.par_umol) for spot in (own, spread)]
    assert widths[1] == pytest.approx(np.hypot(widths[0], 1.645 * np.hypot(0.05, 0.2)))


def test_a_guess_beside_a_cover_is_a_guess(tank):
    covered(tank, **READ, factor=0.9)
    history = light_history(tank)
    assert guesses(history.changes) == pytest.approx(1.0)
    assert history.changes[0].factor == pytest.approx(0.9 * 0.75)


def test_putting_on_and_taking_off_again_gives_the_same_light(surveyed):
    before = light(surveyed)
    covered(surveyed, 3, **READ)
    covered(surveyed, 2, **(READ | {"cover_done": "off"}))
    assert light(surveyed).par_umol == pytest.approx(before.par_umol)


WRONG = [
    ({"cover": "lid", "cover_done": "on"}, "cover_percent"),
    ({"cover": "lid", "cover_percent": 80}, "cover_done"),
    ({"cover_percent": 80}, "cover"),
    (READ | {"cover_with_umol": None}, "cover_with_umol"),
    (READ | {"cover_with_umol": 250}, "cover_with_umol"),
    (READ | {"cover_with_umol": 5}, "cover_with_umol"),
    ({"cover": "lid", "cover_done": "on", "cover_percent": 120}, "cover_percent"),
]


@pytest.mark.parametrize(("cover", "field"), WRONG)
def test_the_model_the_form_and_the_api_refuse_the_same(as_user, owner, tank, cover, field):
    change = LightChange(tank=tank, happened_at=NOW, reason="cover", **cover)
    with pytest.raises(ValidationError) as problem:
        change.full_clean(exclude=["created_by"])
    assert field in problem.value.message_dict
    typed = {name: "" if value is None else value for name, value in cover.items()}
    page = as_user(owner).post(reverse("light_change_new", args=[tank.pk]), FORM | typed)
    assert page.status_code == 422 and field in page.context["form"].errors
    api = APIClient()
    api.force_authenticate(owner)
    body = {"happened_at": "2026-05-03T10:00:00Z", "reason": "cover"} | cover
    answer = api.post(f"/api/v1/tanks/{tank.pk}/light-changes/", body, format="json")
    assert answer.status_code == 400 and field in answer.json()["errors"]
    assert not tank.light_changes.exists()


def test_the_form_keeps_a_cover_and_the_log_says_it(as_user, co_keeper, tank):
    client = as_user(co_keeper)
    client.post(reverse("light_change_new", args=[tank.pk]), FORM | {"reason": ""} | LID)
    change = tank.light_changes.get()
    assert (change.reason, change.transmission) == ("cover", 0.8)
    assert change.title == change.cover_title and change.get_cover_display() in change.title.lower()
    page = client.get(reverse("light_change_list", args=[tank.pk])).content.decode()
    assert "passes 80\u00a0% (stated)" in page


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_who_may_not_write_puts_no_lid_on(request, as_user, tank, who, status):
    client = as_user(request.getfixturevalue(who))
    url = reverse("light_change_new", args=[tank.pk])
    assert client.post(url, FORM | LID).status_code == status
