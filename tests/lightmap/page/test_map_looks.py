"""What the map's colours can stand for, on the page and at a slant."""

import numpy as np
import pytest
from django.core.cache import caches
from django.urls import reverse

from apps.drawing.box import CORNERS, facing, slant_for
from apps.drawing.cut import CELLS
from apps.lightmap.page.box import TURNS
from apps.lightmap.page.looks import LOOKS, half_width_percent, points_of, scale_for, sure_words
from apps.lightmap.page.usual_view import usual_band
from apps.lightmap.pins import Pin
from apps.photics.field.light_field import LightField
from apps.photics.ground.estimate import GridEstimate, SectionEstimate
from tests.factories import make_coral, make_lit_survey, make_rock, make_survey
from tests.lightmap.page.test_map_views import HTMX, page, text_of


@pytest.fixture(autouse=True)
def no_fits_of_other_tests():
    caches["maps"].clear()


@pytest.fixture
def lit(tank):
    make_lit_survey(tank)
    return tank


def test_a_smooth_light_is_drawn_from_twice_as_many_nodes_that_it_works_out_none_of(
    as_user, owner, lit, monkeypatch
):
    def ask(rocks):
        cuts = []
        whole = LightField.cut
        monkeypatch.setattr(
            LightField, "cut", lambda self, *axes: cuts.append(axes) or whole(self, *axes)
        )
        planes = as_user(owner).get(reverse("light_map", args=[lit.pk])).context["page"].planes
        assert planes.plan and planes.light.is_smooth is not rocks
        return [len(x) for x, _, _ in cuts if len(x) > CELLS]

    assert ask(rocks=False) == [CELLS + 1, 2 * CELLS + 1]
    make_rock(lit)
    assert ask(rocks=True) == [CELLS + 1]


def box(client, tank, query="", **options):
    return client.get(reverse("light_map", args=[tank.pk]) + "?seen=3d" + query, **options)


def box_of(response):
    return response.context["page"].box


def test_half_width_is_half_the_interval_over_the_par():
    assert half_width_percent(100.0, 80.0, 130.0) == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("percent", "word"), [(3, "very sure"), (15, "fair"), (90, "mostly a guess")]
)
def test_words_of_how_sure(percent, word):
    assert sure_words(percent) == word


def test_nodes_follow_the_arrays_of_either_cut():
    empty = [np.zeros((2, 3))] * 5
    level = GridEstimate(np.array([0, 1, 2]), np.array([5, 6]), 9.0, *empty)
    upright = SectionEstimate(np.array([0, 1, 2]), np.array([5, 6]), 9.0, *empty)
    assert points_of(level)[4].tolist() == [1, 6, 9]
    assert points_of(upright)[4].tolist() == [1, 9, 6]


def test_par_has_one_scale_whatever_the_light_and_band():
    plain, wanted = scale_for(LOOKS["par"]), scale_for(LOOKS["par"], (75.0, 150.0))
    assert plain.levels == wanted.levels and plain.colours == wanted.colours
    assert (plain.wanted, wanted.wanted) == (None, (75.0, 150.0))


def test_own_scales_know_no_wanted_par():
    assert scale_for(LOOKS["sure"], (75.0, 150.0)).wanted is None


def test_map_draws_the_band_out_that_most_corals_want(as_user, owner, lit):
    for name, low in (("a", 80), ("b", 80), ("c", 200)):
        make_coral(lit, name=name, band_low_umol=low, band_high_umol=low + 60)
    shown = page(as_user(owner), lit).context["page"]
    assert shown.view.wanted == (80, 140)
    assert shown.planes.legend.bracket and shown.query.band.texts == ("80", "140")
    asked = page(as_user(owner), lit, "?low=100&high=120").context["page"]
    assert asked.view.wanted == (100, 120)


def test_band_that_is_none_is_not_drawn(as_user, owner, lit):
    shown = page(as_user(owner), lit, "?low=200&high=100").context["page"]
    assert shown.view.wanted is None and not shown.planes.plan.light.unwanted


def test_of_bands_as_frequent_the_lower_is_usual():
    pins = [Pin("", 0, 0, 0, band_low_umol=low, band_high_umol=low + 50) for low in (200, 80)]
    assert usual_band(pins) == (80, 130)
    assert usual_band([Pin("", 0, 0, 0)]) is None


@pytest.mark.parametrize("look", [look for look in LOOKS.values() if look.levels])
def test_own_scales_have_a_colour_for_each_band_and_words_for_all_or_none(look):
    assert len(look.colours) == len(look.levels) + 1
    assert len(look.words) in (0, len(look.colours))


@pytest.mark.parametrize("key", LOOKS)
@pytest.mark.parametrize("reader", ["owner", "viewer"])
def test_every_look_shows_its_meaning_and_legend(request, as_user, lit, key, reader):
    response = page(as_user(request.getfixturevalue(reader)), lit, f"?view={key}")
    look = LOOKS[key]
    assert response.context["page"].view.look == look
    words = text_of(response)
    assert look.meaning in words and look.title in words
    assert all(word in words for word in look.words)


def test_look_stays_through_another_depth(as_user, owner, lit):
    response = page(as_user(owner), lit, "?view=sure&depth=12", headers=HTMX)
    assert response["HX-Replace-Url"].endswith("&view=sure")
    assert "12 cm below" in text_of(response)


def test_share_from_one_direction_is_a_share(as_user, owner, lit):
    shown = page(as_user(owner), lit, "?view=shadow").context["page"]
    share = shown.light.fitted.field.directness([(30, 30, 5), (2, 2, 48)])
    assert (share > 0).all() and (share < 1).all() and share[0] > share[1]
    assert len(shown.planes.plan.light.bands) >= 2


def test_map_without_fixtures_shows_the_light_instead_of_shadows(as_user, owner, tank, monkeypatch):
    make_survey(tank)
    monkeypatch.setattr("apps.photics.field.light_field.LightField.rig_fit", None)
    response = page(as_user(owner), tank, "?view=shadow")
    view = response.context["page"].view
    assert view.look.key == "par" and view.look_problem in text_of(response)


def test_unknown_look_is_the_light(as_user, owner, lit):
    assert page(as_user(owner), lit, "?view=colour").context["page"].view.look.key == "par"


def test_reading_that_disagrees_is_drawn_apart_and_linked(as_user, owner, viewer, lit):
    survey = lit.surveys.get()
    wrong = survey.readings.get(position=14)
    wrong.value_umol *= 10
    wrong.save()
    response = page(as_user(owner), lit)
    shown = response.context["page"]
    assert shown.planes.plan.dots.odd.count("M") == len(shown.disagreeing) >= 1
    link = f"{reverse('survey_readings', args=[survey.pk])}#reading-{wrong.client_id}"
    assert link in response.content.decode()
    table = as_user(owner).get(reverse("survey_readings", args=[survey.pk])).content.decode()
    assert f'id="reading-{wrong.client_id}"' in table
    assert link not in page(as_user(viewer), lit).content.decode()


def test_lattice_is_made_once_for_all_pages(as_user, owner, lit, monkeypatch):
    client = as_user(owner)
    page(client, lit)
    monkeypatch.setattr("apps.photics.field.light_field.build_lattice", None)
    assert page(client, lit, "?depth=11&view=sure").status_code == 200


# --- At a slant -----------------------------------------------------------------------------


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_those_let_in_see_the_box(request, as_user, lit, reader):
    make_coral(lit)
    response = box(as_user(request.getfixturevalue(reader)), lit)
    drawn = box_of(response)
    assert len(drawn.pins) == 1 and len(drawn.fixtures) == 1 and not drawn.guessed
    assert sum(layer.slice is not None for layer in drawn.layers) == 3


def test_rock_is_cut_by_the_slices_that_pass_through_it(as_user, owner, lit):
    # From 20 to 48 cm deep in 50 cm of water: crossed by the slices at 25 and 44 cm.
    make_rock(lit, depth_cm=20, height_cm=28)
    drawn = box_of(box(as_user(owner), lit))
    assert [len(layer.rocks) for layer in drawn.layers] == [3, 3, 3, 0]


def test_stranger_finds_no_box(as_user, stranger, lit):
    assert box(as_user(stranger), lit).status_code == 404


def test_no_map_no_box(as_user, owner, tank):
    response = box(as_user(owner), tank)
    assert response.status_code == 200 and box_of(response) is None


def test_guessed_fixtures_are_drawn_as_guessed(as_user, owner, tank):
    make_survey(tank)
    response = box(as_user(owner), tank, headers=HTMX)
    drawn = box_of(response)
    assert drawn.guessed == bool(drawn.fixtures)
    assert "<html" not in response.content.decode()


@pytest.mark.parametrize("turn", range(len(TURNS)))
def test_whole_box_fits_the_drawing_at_every_turn(turn):
    corners = CORNERS * (150, 50, 60)
    slant, view_box = slant_for(turn, corners)
    width, height = map(float, view_box.split()[2:])
    places = slant.at(corners)
    assert (places > 0).all()
    assert (places < (width, height)).all()


def test_the_pane_the_eye_stands_before_faces_it():
    # Turn 0 is "the front", 2 "the right end", 4 "the back", 6 "the left end".
    ways = [(0, -1), (1, 0), (0, 1), (-1, 0)]
    assert all(facing(np.radians(90 * k + 14), way) for k, way in enumerate(ways))


def test_nearer_things_lie_lower_on_the_drawing():
    slant, _ = slant_for(0, CORNERS * (60, 60, 50))
    front, back = slant.at([(30, 0, 20), (30, 60, 20)])
    assert front[1] > back[1]


def test_turning_links_go_round(as_user, owner, lit):
    drawn = box_of(box(as_user(owner), lit, "&turn=7"))
    assert (drawn.turn_on, drawn.turn_back, drawn.seen_from) == (0, 6, TURNS[7])
