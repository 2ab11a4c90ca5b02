"""The map set against an earlier light: what is offered, what is drawn, how sure, who may look."""

import datetime as dt
from xml.etree import ElementTree

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from apps.drawing.contours import TWO_WAY
from tests.factories import (
    grid_readings,
    hang,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_rock,
    make_survey,
    make_tank,
)
from tests.lightmap.page.test_map_views import HTMX, page
from tests.sharing.links import make_link

NOW = timezone.now()
MONTH, DAY = dt.timedelta(days=30), dt.timedelta(days=1)


def shown(client, tank, query=""):
    return page(client, tank, "?view=change" + query).context["page"]


def surveyed(tank, share, when, **more):
    rows = [(x, y, depth, value * share) for x, y, depth, value in grid_readings(tank)]
    return make_survey(tank, readings=rows, taken_at=when, **more)


@pytest.fixture
def halved(tank):
    """One survey, and the light halved ten days ago."""
    make_lit_survey(tank, taken_at=NOW - MONTH)
    make_light_change(tank, happened_at=NOW - 10 * DAY, factor=0.5)
    return tank


@pytest.fixture
def raised(owner, tank):
    """One survey, and the lamp raised ten days ago: beyond the readings that is less sure."""
    make_lit_survey(tank, taken_at=NOW - MONTH)
    change = make_light_change(tank, happened_at=NOW - 10 * DAY, factor=1)
    hang(change, owner.fixtures.get(), number=1, height_cm=33)
    return tank


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_map_is_set_against_the_day_before_the_last_change(request, as_user, halved, reader):
    result = shown(as_user(request.getfixturevalue(reader)), halved)
    assert result.since.key == f"day-{(halved.today() - 11 * DAY)}"
    assert result.change.percent == pytest.approx(-50, abs=0.1)
    assert result.change.way == "dimmer" and result.change.sure_percent > 70


def test_stranger_finds_no_change(as_user, stranger, halved):
    assert page(as_user(stranger), halved, "?view=change").status_code == 404


@pytest.mark.parametrize("seen", ["above", "side"])
def test_change_is_drawn_in_the_two_way_colours_with_dots_where_unsure(
    as_user, owner, raised, seen
):
    result = shown(as_user(owner), raised, f"&seen={seen}")
    assert {colour for _, colour in result.cut.light.bands} <= set(TWO_WAY)
    assert result.cut.light.noise and not result.cut.light.beyond
    assert not result.cut.light.unwanted


def test_all_light_halved_is_sure_beyond_the_readings_too(as_user, owner, halved):
    result = shown(as_user(owner), halved)
    assert result.change.sure_percent == 100 and not result.cut.light.noise


def test_change_at_a_slant_has_the_same_colours_and_dots(as_user, owner, raised):
    result = shown(as_user(owner), raised, "&seen=3d")
    slices = [layer.slice for layer in result.box.layers if layer.slice]
    assert {colour for one in slices for _, colour in one.bands} <= set(TWO_WAY)
    assert any(one.noise for one in slices) and result.change is None


def test_survey_that_reads_the_same_is_all_dots(as_user, owner, tank):
    meter = make_meter(owner)
    surveyed(tank, 1.0, NOW - MONTH, meter=meter)
    surveyed(tank, 1.0, NOW, meter=meter)
    result = shown(as_user(owner), tank)
    assert result.since.group.startswith("Surveys")
    assert result.change.way == "" and result.change.sure_percent < 5


def test_earlier_survey_is_chosen_by_its_key(as_user, owner, tank):
    meter = make_meter(owner)
    first = surveyed(tank, 1.0, NOW - 2 * MONTH, meter=meter)
    surveyed(tank, 1.1, NOW - MONTH, meter=meter)
    surveyed(tank, 1.25, NOW, meter=meter)
    result = shown(as_user(owner), tank, f"&since=survey-{first.pk}")
    # The map of the last survey rests on those before it as well.
    assert result.change.percent == pytest.approx(25, abs=3)


@pytest.mark.parametrize("typed", ["since_day={}", "since=day-{}"])
def test_any_date_can_be_chosen(as_user, owner, halved, typed):
    make_light_change(halved, happened_at=NOW - 4 * DAY, factor=1.5)
    day = halved.today() - 7 * DAY
    result = shown(as_user(owner), halved, "&" + typed.format(day))
    assert result.change.percent == pytest.approx(50, abs=0.1) and result.change.way == "brighter"


@pytest.mark.parametrize("since", ["day-2026-13-40", "survey-0", "nonsense"])
def test_what_cannot_be_read_is_the_usual(as_user, owner, halved, since):
    assert shown(as_user(owner), halved, f"&since={since}").since.key.startswith("day-")


def test_choice_is_offered_only_where_there_is_something_earlier(as_user, owner, tank):
    client = as_user(owner)
    make_survey(tank)
    result = shown(client, tank)
    assert "change" not in {choice.key for choice in result.look_choices}
    assert result.view.look.key == "par" and result.view.look_problem
    make_light_change(tank, happened_at=NOW)
    assert "change" in {choice.key for choice in shown(client, tank).look_choices}


def test_choice_stays_through_another_depth(as_user, owner, halved):
    key = shown(as_user(owner), halved).since.key
    response = page(as_user(owner), halved, "?view=change&depth=12", headers=HTMX)
    assert f"view=change&since={key}" in response["HX-Replace-Url"]
    assert 'id="map-change"' in response.content.decode()


def test_readout_knows_the_change_at_every_node(as_user, owner, halved):
    make_rock(halved, depth_cm=20, height_cm=28)
    drawn = shown(as_user(owner), halved, "&depth=30").cut
    nodes = drawn.readout["columns"] * drawn.readout["rows"]
    percent = drawn.readout["change"]["percent"]
    assert len(percent) == len(drawn.readout["change"]["unsure"]) == nodes
    assert np.isfinite(percent).all()


def test_only_water_counts(as_user, owner, halved):
    make_rock(halved, x_cm=0, y_cm=0, length_cm=59, width_cm=59, depth_cm=20, height_cm=28)
    assert shown(as_user(owner), halved, "&depth=30").change.percent == pytest.approx(-50, abs=0.1)


def test_shared_map_offers_no_earlier_light(client, owner, halved):
    _, token = make_link(halved)
    response = client.get(reverse("shared_map", args=[token]), {"view": "change"})
    assert response.context["page"].view.look.key == "par"
    assert not response.context["page"].earlier


def test_other_tanks_surveys_are_no_earlier_light(as_user, owner, halved):
    other = make_survey(make_tank(name="Not yours"), taken_at=NOW - 2 * MONTH)
    assert shown(as_user(owner), halved, f"&since=survey-{other.pk}").since.key.startswith("day-")


@pytest.mark.parametrize("seen", ["above", "3d"])
def test_picture_says_what_it_is_set_against(as_user, owner, halved, seen):
    address = reverse("light_map_svg", args=[halved.pk])
    answer = as_user(owner).get(address, {"view": "change", "seen": seen})
    root = ElementTree.fromstring(answer.content.decode())
    words = " ".join(text.text for text in root.iter("{http://www.w3.org/2000/svg}text"))
    assert f"{halved.today() - 11 * DAY:%-d %b %Y}" in words
