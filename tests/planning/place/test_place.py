"""Place a coral: a region with how sure it is, and a few places in words."""

import datetime as dt

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Coral
from apps.lighting.models import LightChange
from apps.planning.place.forms import PlaceForm
from apps.planning.place.place import ELBOW_CM, brightness_advice, find_places
from apps.planning.what_if.live_light import live_light
from tests.factories import make_coral, make_lit_survey, make_rock, make_survey


def surveyed(tank):
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    return live_light(tank, timezone.now())


def places(live, low, high, **overrides):
    asked = {"from_umol": None, "deepest_cm": None, "besides": None, "unit": "cm"} | overrides
    return find_places(live, (low, high), **asked)


def test_every_suggestion_is_in_the_band_by_the_map(tank):
    make_rock(tank)
    live = surveyed(tank)
    answer = places(live, 100, 200)
    for place in answer.suggestions:
        par = live.now_at([[place.x_cm, place.y_cm, place.depth_cm]]).par_umol[0]
        assert 100 <= par <= 200
    assert answer.suggestions


def test_the_light_it_comes_from_draws_it_to_the_like(tank):
    live = surveyed(tank)
    dim, bright = (places(live, 60, 190, from_umol=light).suggestions[0] for light in (70, 180))
    assert dim.par_umol < bright.par_umol


def test_a_band_no_place_has_is_answered_with_none(tank):
    assert places(surveyed(tank), 1500, 1900).suggestions == ()


def test_a_place_beside_another_coral_is_taken(tank):
    live = surveyed(tank)
    first = places(live, 100, 200).suggestions[0]
    make_coral(tank, at_cm=(first.x_cm, first.y_cm, first.depth_cm))
    for place in places(live, 100, 200).suggestions:
        gap = abs(place.x_cm - first.x_cm) + abs(place.y_cm - first.y_cm)
        assert gap + abs(place.depth_cm - first.depth_cm) >= ELBOW_CM


def test_its_own_spot_is_no_obstacle(tank):
    live = surveyed(tank)
    first = places(live, 100, 200).suggestions[0]
    coral = make_coral(tank, at_cm=(first.x_cm, first.y_cm, first.depth_cm))
    again = places(live, 100, 200, besides=coral).suggestions[0]
    assert (again.x_cm, again.y_cm) == (first.x_cm, first.y_cm)


def test_a_named_rock_is_named_in_the_words(tank):
    make_rock(tank, name="the crest", x_cm=0, y_cm=0, length_cm=60, width_cm=60)
    answer = places(surveyed(tank), 50, 1000)
    assert "“the crest”" in answer.suggestions[0].on


def test_the_words_tell_where_it_lies(tank):
    first = places(surveyed(tank), 100, 200).suggestions[0]
    assert first.on == "on the sand"
    assert first.at.startswith(f"{first.x_cm:.1f}".rstrip("0").rstrip("."))
    assert "50\u00a0cm deep" in first.at


def test_beyond_an_arms_reach_nothing_is_suggested(tank):
    assert places(surveyed(tank), 100, 200, deepest_cm=20) is None


def test_a_surer_grade_has_no_more_places_than_a_vaguer_one(tank):
    shares = [percent for _, percent in places(surveyed(tank), 100, 200).shares]
    assert shares == sorted(shares)


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_may_look_for_a_place(request, as_user, tank, reader, status):
    surveyed(tank)
    client = as_user(request.getfixturevalue(reader))
    assert client.get(reverse("place_coral", args=[tank.pk])).status_code == status


def test_only_who_may_write_is_offered_to_place_it(as_user, viewer, tank):
    surveyed(tank)
    page = as_user(viewer).get(
        reverse("place_coral", args=[tank.pk]), {"band_low_umol": "100", "band_high_umol": "200"}
    )
    assert "Place it here" not in page.content.decode()


@pytest.mark.parametrize(("band", "is_drawn"), [((100, 200), True), ((4000, 5000), False)])
def test_where_no_place_is_even_possible_nothing_is_drawn(as_user, owner, tank, band, is_drawn):
    surveyed(tank)
    wanted = dict(zip(("band_low_umol", "band_high_umol"), band, strict=True))
    page = as_user(owner).get(reverse("place_coral", args=[tank.pk]), wanted)
    assert page.context["answer"].has_regions == is_drawn
    assert ('class="place-views"' in page.content.decode()) == is_drawn


def test_a_coral_brings_its_band_and_the_light_it_is_used_to(as_user, owner, tank):
    surveyed(tank)
    coral = make_coral(tank, band_low_umol=120, band_high_umol=240)
    page = as_user(owner).get(reverse("place_coral", args=[tank.pk]), {"coral": coral.pk})
    told = page.context["band"]
    assert (told["band_low_umol"], told["band_high_umol"]) == (120, 240)
    assert told["from_umol"] > 0


def test_another_coral_brings_its_own_unless_the_keeper_typed(as_user, owner, tank):
    surveyed(tank)
    coral = make_coral(tank, band_low_umol=120, band_high_umol=240)
    client, url = as_user(owner), reverse("place_coral", args=[tank.pk])
    left = dict.fromkeys(("coral", "filled_for", "from_umol", "deepest_cm"), "")
    left |= {"band_low_umol": "200", "band_high_umol": "350"}
    told = client.get(url, left | {"coral": coral.pk}).context["band"]
    assert (told["band_low_umol"], told["band_high_umol"]) == (120, 240)
    assert told["from_umol"] > 0
    typed = {"coral": coral.pk, "band_low_umol": "90", "band_high_umol": "150", "from_umol": "70"}
    told = client.get(url, left | typed).context["band"]
    assert [told[name] for name in typed if name != "coral"] == [90, 150, 70]
    stayed = client.get(url, left | typed | {"filled_for": coral.pk, "from_umol": ""})
    assert stayed.context["band"]["from_umol"] is None


def test_a_place_is_taken_over_into_a_spot(as_user, owner, tank):
    surveyed(tank)
    coral = make_coral(tank, band_low_umol=100, band_high_umol=250)
    client = as_user(owner)
    page = client.get(reverse("place_coral", args=[tank.pk]), {"coral": coral.pk})
    place, url = page.context["placed"][0]
    form = client.get(url).context["form"]
    assert form.instance.x_cm == pytest.approx(place.x_cm, abs=0.06)


def test_a_place_is_taken_over_into_a_coral_to_come(as_user, owner, tank):
    surveyed(tank)
    client = as_user(owner)
    asked = {"band_low_umol": "100", "band_high_umol": "200"}
    page = client.get(reverse("place_coral", args=[tank.pk]), asked)
    place, url = page.context["placed"][0]
    form = client.get(url).context["place"]
    assert form["x_cm"].value() == f"{place.x_cm:.1f}".rstrip("0").rstrip(".")


BY_DAY = {"band_low_umol": "2 mol", "band_high_umol": "12 mol"}


def test_a_band_is_typed_as_daily_light_and_said_both_ways(as_user, owner, tank):
    surveyed(tank)
    LightChange.objects.update(day_hours=11, ramp_hours=1)
    page = as_user(owner).get(reverse("place_coral", args=[tank.pk]), BY_DAY)
    assert page.context["band"]["band_low_umol"] == pytest.approx(2 / 0.036)
    assert "mol a\N{NO-BREAK SPACE}day" in page.content.decode()


def test_daily_light_needs_the_hours_of_the_tank(tank):
    form = PlaceForm(BY_DAY, corals=Coral.objects.none(), full_hours=None, tank=tank, unit="cm")
    assert set(form.errors) == {"band_low_umol", "band_high_umol"}


def test_a_band_upside_down_is_told_at_its_field(as_user, owner, tank):
    surveyed(tank)
    asked = {"band_low_umol": "300", "band_high_umol": "200"}
    page = as_user(owner).get(reverse("place_coral", args=[tank.pk]), asked)
    assert page.status_code == 422
    assert "must be above" in page.content.decode()


def test_a_tank_without_a_map_says_so(as_user, owner, tank):
    page = as_user(owner).get(reverse("place_coral", args=[tank.pk]))
    assert "light map yet" in page.content.decode()


def test_without_a_rig_shade_is_not_claimed(as_user, owner, tank):
    make_survey(tank)
    page = as_user(owner).get(reverse("place_coral", args=[tank.pk]))
    answer = page.context["answer"]
    assert (answer.knows_rig, answer.shaded_percent) == (False, 0)


@pytest.mark.parametrize(
    ("par_umol", "advice"),
    [
        ((50.0, 99.9), "brighter"),
        ((50.0, 100.0), ""),
        ((200.0, 300.0), ""),
        ((200.1, 300.0), "dimmer"),
    ],
)
def test_where_no_place_has_the_light_of_the_band_it_says_what_would(par_umol, advice):
    assert brightness_advice(np.array(par_umol), (100.0, 200.0)) == advice
