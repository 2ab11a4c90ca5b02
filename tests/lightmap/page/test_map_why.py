"""Why a point has its light: parts that add up, and the page for those who may see it."""

from dataclasses import replace

import numpy as np
import pytest
from django.core.cache import caches
from django.urls import reverse

from apps.lighting.history import light_history
from apps.lightmap.page.shown_light import measured_rows
from apps.lightmap.page.why import round_to_sum, rounded_parts, why
from apps.lightmap.shown_field import ShownField
from apps.lightmap.survey_map import fit_survey
from apps.photics.field.composition import Contribution, Explanation
from tests.factories import make_lit_survey, make_rock, make_survey
from tests.lightmap.page.test_map_views import HTMX, NOW, text_of


@pytest.fixture(autouse=True)
def no_fits_of_other_tests():
    caches["maps"].clear()


def why_of(tank, survey, point, factor=1.0):
    field = fit_survey(survey, light_history(tank)).field
    shown = ShownField(field, factor, 0 if factor == 1 else 1)
    return why(shown, point, measured_rows(survey, field.summary))


def ask(client, tank, query="?x=30&y=30&depth=20", **options):
    return client.get(reverse("light_map_why", args=[tank.pk]) + query, **options)


@pytest.mark.parametrize("point", [(30, 30, 10), (3, 55, 48), (30, 12, 30)])
def test_shares_and_correction_add_up_to_the_number_shown(tank, point):
    explained = why_of(tank, make_lit_survey(tank), point)
    total = sum(share.total_umol for share in explained.by_fixture) + explained.correction_umol
    assert total == pytest.approx(explained.par_umol, abs=1e-9)
    parts = [(s.direct_umol + s.by_panes_umol + s.by_bottom_umol) for s in explained.by_fixture]
    assert parts == pytest.approx([s.total_umol for s in explained.by_fixture])


@pytest.mark.parametrize(("correction_umol", "verb"), [(-0.5, "take away"), (0.5, "add")])
def test_readings_nearby_add_or_take_away(tank, correction_umol, verb):
    explained = why_of(tank, make_lit_survey(tank), (30, 30, 10))
    assert replace(explained, correction_umol=correction_umol).correction_verb == verb


@pytest.mark.parametrize(("point", "is_mirrored"), [((2, 2, 40), True), ((30, 30, 10), False)])
def test_a_corner_has_its_light_by_the_panes_and_the_middle_has_not(tank, point, is_mirrored):
    explained = why_of(tank, make_lit_survey(tank), point)
    mirrored = sum(share.by_panes_umol for share in explained.by_fixture)
    total = sum(share.total_umol for share in explained.by_fixture)
    assert explained.mirrored_percent == pytest.approx(100 * mirrored / total)
    assert explained.is_mirrored == is_mirrored


def test_change_since_scales_every_part(tank):
    survey = make_lit_survey(tank)
    before, after = why_of(tank, survey, (30, 30, 20)), why_of(tank, survey, (30, 30, 20), 0.5)
    # One rounding on either side.
    assert after.par_umol == pytest.approx(before.par_umol / 2, abs=1)
    assert after.by_fixture[0].total_umol == pytest.approx(
        before.by_fixture[0].total_umol / 2, abs=2
    )
    assert after.half_width_percent > before.half_width_percent


def test_nearest_readings_come_first(tank):
    explained = why_of(tank, make_lit_survey(tank), (12, 12, 11))
    assert explained.nearest[0].number == 1
    assert explained.nearest_away_cm == pytest.approx(1.0)
    assert not explained.nearest_is_far


def test_many_fixtures_are_told_in_eight_lines():
    parts = tuple(Contribution(k, f"P{k}", 10.0 + k, 1.0, 0.5) for k in range(20))
    par = sum(11.5 + k for k in range(20)) - 7.3
    shares, correction, total = rounded_parts(Explanation(par, 1, 2, False, parts, -7.3, False))
    assert len(shares) == 8 and shares[-1].name == "13 more lamps"
    assert sum(s.total_umol for s in shares) + correction == pytest.approx(total)


@pytest.mark.parametrize("seed", range(5))
def test_rounding_keeps_the_sum_and_strays_less_than_a_step(seed):
    values = np.random.default_rng(seed).uniform(-20, 90, 7)
    total = round(values.sum())
    rounded = round_to_sum(values.tolist(), total, 1.0)
    assert sum(rounded) == total
    assert np.abs(np.array(rounded) - values).max() < 1.0


def test_point_beside_rock_is_said_to_be(as_user, owner, tank):
    make_lit_survey(tank)
    make_rock(tank)
    client = as_user(owner)
    assert ask(client, tank, "?x=42&y=30&depth=35").context["why"].by_rock
    assert not ask(client, tank, "?x=50&y=30&depth=35").context["why"].by_rock


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_those_let_in_are_told_why(request, as_user, tank, reader):
    make_lit_survey(tank)
    response = ask(as_user(request.getfixturevalue(reader)), tank)
    explained = response.context["why"]
    assert [part.name for part in explained.by_fixture] == ["Panel 1"]
    assert not explained.guessed and "Panel 1" in text_of(response)


def test_stranger_finds_nothing(as_user, stranger, tank):
    make_lit_survey(tank)
    assert ask(as_user(stranger), tank).status_code == 404
    assert ask(as_user(stranger), tank, headers=HTMX).status_code == 404


def test_htmx_gets_the_answer_alone(as_user, owner, tank):
    make_lit_survey(tank)
    body = ask(as_user(owner), tank, headers=HTMX).content.decode()
    assert "<html" not in body and 'id="map-why"' in body


def test_unknown_fixtures_are_owned_up_to(as_user, owner, tank):
    make_survey(tank, taken_at=NOW)
    explained = ask(as_user(owner), tank).context["why"]
    assert explained.guessed or not explained.by_fixture


def test_point_outside_the_water_is_told(as_user, owner, tank):
    make_lit_survey(tank)
    response = ask(as_user(owner), tank, "?x=99&y=30&depth=20")
    assert len(response.context["page"].query.problems) == 1
    assert b'role="alert"' in response.content


def test_tank_without_a_map_says_so(as_user, owner, tank):
    response = ask(as_user(owner), tank)
    assert response.status_code == 200 and "why" not in response.context


def test_point_within_rock_has_no_number_and_the_first_one_asked_lies_in_water(
    as_user, owner, tank
):
    make_lit_survey(tank)
    rock = make_rock(tank, x_cm=20, y_cm=20, depth_cm=10, height_cm=40)
    client = as_user(owner)
    response = ask(client, tank, "?x=30&y=30&depth=35")
    assert b'id="why-in-rock"' in response.content and "why" not in response.context
    first = ask(client, tank, "?y=30&depth=35").context["why"]
    assert first.x_cm <= rock.x_cm or first.x_cm >= rock.x_cm + rock.length_cm
