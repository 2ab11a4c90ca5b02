"""Where to read next: the spots, what they gain, and who is told."""

import numpy as np
import pytest
from django.core.cache import caches
from django.urls import reverse

from apps.lighting.history import light_history
from apps.lightmap.page.next import next_readings, typical_half_widths
from apps.lightmap.pins import Pin
from apps.lightmap.survey_map import fit_survey
from apps.photics.field.light_field import fit_light_field
from tests.factories import make_coral, make_lit_survey
from tests.lightmap.page.test_map_views import HTMX, page


@pytest.fixture(autouse=True)
def no_fits_of_other_tests():
    caches["maps"].clear()


def field_of(tank):
    return fit_survey(make_lit_survey(tank), light_history(tank)).field


def ask(client, tank, query="", **options):
    return client.get(reverse("light_map_next", args=[tank.pk]) + query, **options)


def test_more_readings_leave_less_unsure(tank):
    field = field_of(tank)
    few, many = next_readings(field, 3, ()), next_readings(field, 6, ())
    assert few.before_percent == pytest.approx(many.before_percent)
    assert many.after_percent < few.after_percent < few.before_percent


def test_gain_told_is_what_a_new_fit_gains(tank):
    """Readings that fall where the map expects them narrow it about as much as foretold."""
    survey = make_lit_survey(tank)
    field = fit_survey(survey, light_history(tank)).field
    next_six = next_readings(field, 6, ())
    places = np.array([(s.x_cm, s.y_cm, s.depth_cm) for s in next_six.points])
    rows = [(r.x_cm, r.y_cm, r.depth_cm, r.value_umol) for r in survey.readings.all()]
    known = np.array(rows)
    points = np.vstack([known[:, :3], places])
    values = np.r_[known[:, 3], field.at(places).par_umol]
    rig = light_history(tank).rig_at(survey.taken_at)
    again = fit_light_field(points, values, tank=tank.scene(), fixtures=rig)
    targets = np.random.default_rng(3).uniform(4, 46, (60, 3))
    before, foretold = typical_half_widths(field, places, targets)
    _, fitted = typical_half_widths(again, places[:1], targets)
    # The new fit also learns its noise anew: within a third of the width foretold.
    assert foretold < before
    assert fitted == pytest.approx(foretold, rel=0.35)


def test_corals_count(tank):
    pins = [Pin("Low and left", 6, 6, 45)]
    by_pin = next_readings(field_of(tank), 3, pins)
    plain = next_readings(field_of(tank), 3, ())
    assert (by_pin.by_corals, plain.by_corals) == (True, False) and by_pin.what != plain.what
    assert by_pin.after_percent < by_pin.before_percent


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_those_let_in_see_the_spots_on_the_map(request, as_user, tank, reader):
    make_lit_survey(tank)
    make_coral(tank)
    response = page(as_user(request.getfixturevalue(reader)), tank, "?next=5")
    shown = response.context["page"]
    assert [dot.text for dot in shown.planes.plan.spots] == list("ABCDE")
    assert [dot.text for dot in shown.planes.section.spots] == list("ABCDE")
    assert shown.next.after_percent < shown.next.before_percent


def test_map_does_not_look_for_spots_unasked(as_user, owner, tank, monkeypatch):
    make_lit_survey(tank)
    monkeypatch.setattr("apps.lightmap.page.drawn_page.next_readings", None)
    assert page(as_user(owner), tank).context["page"].next is None


@pytest.mark.parametrize(("wish", "count"), [("1", 3), ("99", 6), ("4", 4)])
def test_three_to_six_spots_are_told(as_user, owner, tank, wish, count):
    make_lit_survey(tank)
    shown = ask(as_user(owner), tank, f"?next={wish}").context["page"]
    assert len(shown.next.points) == count


def test_spots_stay_through_another_depth(as_user, owner, tank):
    make_lit_survey(tank)
    response = page(as_user(owner), tank, "?next=4&depth=12", headers=HTMX)
    assert response["HX-Replace-Url"].endswith("&next=4")
    assert "map-next-mark" in response.content.decode()


def test_survey_page_leads_to_its_spots(as_user, owner, tank):
    survey = make_lit_survey(tank)
    body = as_user(owner).get(reverse("survey_detail", args=[survey.pk])).content.decode()
    assert f"{reverse('light_map_next', args=[tank.pk])}?survey={survey.pk}" in body


def test_htmx_gets_the_list_alone(as_user, viewer, tank):
    survey = make_lit_survey(tank)
    response = ask(as_user(viewer), tank, f"?survey={survey.pk}", headers=HTMX)
    body = response.content.decode()
    assert "<html" not in body and 'id="map-next"' in body
    assert reverse("survey_readings", args=[survey.pk]) not in body


def test_stranger_finds_no_spots(as_user, stranger, tank):
    make_lit_survey(tank)
    assert ask(as_user(stranger), tank).status_code == 404


def test_without_a_map_it_says_how_to_begin(as_user, owner, tank):
    response = ask(as_user(owner), tank)
    assert response.status_code == 200 and response.context["page"].next is None
