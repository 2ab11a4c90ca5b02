"""One drawing at a time: the switch between them, the layers over it, what a point offers."""

import datetime as dt
import re
from urllib.parse import parse_qs, urlsplit

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lightmap.page.links import choices, toggles
from tests.factories import (
    make_coral,
    make_lit_survey,
    make_rock,
    make_survey,
    make_survey_unlike_its_lamp,
)

HTMX = {"HX-Request": "true"}
ALL_SEEN = ["above", "side", "3d"]


@pytest.fixture
def lit(tank):
    make_lit_survey(tank)
    make_rock(tank)
    make_coral(tank)
    return tank


def get(client, tank, query="", **options):
    return client.get(reverse("light_map", args=[tank.pk]) + query, **options)


def drawings_in(response):
    return re.findall(r'id="(map-plan|map-section|map-box)"', response.content.decode())


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
@pytest.mark.parametrize(
    ("seen", "name"), [("above", "map-plan"), ("side", "map-section"), ("3d", "map-box")]
)
def test_page_has_the_one_drawing_that_is_chosen(request, as_user, lit, reader, seen, name):
    response = get(as_user(request.getfixturevalue(reader)), lit, f"?seen={seen}")
    assert drawings_in(response) == [name]


def test_stranger_finds_none(as_user, stranger, lit):
    assert {get(as_user(stranger), lit, f"?seen={seen}").status_code for seen in ALL_SEEN} == {404}


def test_switch_keeps_all_other_choices(as_user, owner, lit):
    page = get(as_user(owner), lit, "?depth=12&y=20&low=80&high=90&view=sure&hide=guess").context[
        "page"
    ]
    for choice in page.seen_choices:
        kept = {key: values[0] for key, values in parse_qs(choice.address).items()}
        assert kept["depth"] == "12cm" and kept["y"] == "20cm" and kept["low"] == "80"
        assert kept["view"] == "sure" and kept["hide"] == "guess"
        assert kept.get("seen", "above") == choice.key
    assert [choice.is_here for choice in page.seen_choices] == [True, False, False]


@pytest.mark.parametrize("seen", ALL_SEEN)
def test_switch_swaps_the_figure_and_its_address(as_user, owner, lit, seen):
    response = get(as_user(owner), lit, f"?seen={seen}", headers=HTMX | {"HX-Target": "map-figure"})
    body = response.content.decode()
    assert "<html" not in body and 'id="map-figure"' in body and "hx-swap-oob" not in body
    told = parse_qs(urlsplit(response["HX-Replace-Url"]).query)
    assert told.get("seen", ["above"]) == [seen]


def test_unknown_view_is_the_plan(as_user, owner, lit):
    assert drawings_in(get(as_user(owner), lit, "?seen=under")) == ["map-plan"]


def test_hidden_layers_are_not_drawn_and_can_be_shown_again(as_user, owner, lit):
    client = as_user(owner)
    shown = get(client, lit).context["page"].cut
    assert shown.dots.here + shown.dots.away and shown.pins and shown.light.beyond
    page = get(client, lit, "?hide=corals.readings.guess.nonsense").context["page"]
    assert not (page.cut.dots.here + page.cut.dots.away + page.cut.dots.odd)
    assert page.cut.pins == () and page.cut.light.beyond == ""
    back = next(choice for choice in page.layer_choices if choice.key == "corals")
    assert parse_qs(back.address)["hide"] == ["readings.guess"] and not back.is_here


def test_hidden_corals_keep_their_light_in_the_list(as_user, owner, lit):
    page = get(as_user(owner), lit, "?hide=corals").context["page"]
    assert len(page.planes.pin_lights) == 1


def test_toggle_and_choice_leave_the_usual_unsaid():
    on, off = toggles({"a": 1}, "hide", {"x": "X", "y": "Y"}, frozenset("y"))
    assert (on.address, on.is_here) == ("a=1&hide=x.y", True)
    assert (off.address, off.is_here) == ("a=1", False)
    usual, other = choices({"a": 1, "to": "y"}, "to", {"x": "X", "y": "Y"}, here="y", usual="x")
    assert (usual.address, usual.is_here) == ("a=1", False)
    assert (other.address, other.is_here) == ("a=1&to=y", True)


# --- A point ------------------------------------------------------------------------------------


def why(client, tank, query):
    return client.get(reverse("light_map_why", args=[tank.pk]) + query)


@pytest.mark.parametrize(("place", "kind"), [("read", "near"), ("x=1&y=1&depth=49", "beyond")])
def test_reason_says_whether_the_point_was_measured(as_user, owner, tank, place, kind):
    reading = make_survey(tank).readings.first()
    if place == "read":
        place = f"x={reading.x_cm}&y={reading.y_cm}&depth={reading.depth_cm}"
    said = why(as_user(owner), tank, f"?{place}").context["reason"]
    point = get(as_user(owner), tank).context["point_data"]
    assert said == point["reasons"][kind].format("0 cm")


@pytest.mark.parametrize(("seen", "plane"), [("above", "plan"), ("side", "section")])
def test_map_opens_with_the_brightest_point_of_its_cut(as_user, owner, lit, seen, plane):
    answer = get(as_user(owner), lit, f"?seen={seen}&depth=20&y=30")
    point, page = answer.context["point"], answer.context["page"]
    nodes = [par for par in page.cut.readout["par"] if par is not None]
    assert point.par_umol == pytest.approx(max(nodes), abs=0.051)
    assert point.low_umol <= point.par_umol <= point.high_umol
    there = page.light.field.at([point.place_cm])
    assert float(there.par_umol[0]) == pytest.approx(point.par_umol, rel=0.01)
    opening = answer.context["point_data"]["opening"]
    x_cm, y_cm, depth_cm = point.place_cm
    assert (opening["plane"], opening["across"]) == (plane, round(x_cm, 2))
    assert opening["down"] == round(y_cm if seen == "above" else depth_cm, 2)
    # What can be done there begins with it.
    assert answer.context["coral_url"].endswith(
        f"?x_cm={x_cm:.1f}&y_cm={y_cm:.1f}&depth_cm={depth_cm:.1f}"
    )
    assert f'name="x" value="{x_cm:.2f}cm"' in answer.content.decode()


@pytest.mark.parametrize("make", [make_lit_survey, make_survey_unlike_its_lamp])
def test_opening_point_says_where_it_is_beyond_the_readings(as_user, owner, tank, make):
    make(tank)
    answer = get(as_user(owner), tank, "?depth=20")
    point, page = answer.context["point"], answer.context["page"]
    there = page.light.field.at([point.place_cm])
    assert point.is_beyond == bool(there.extrapolated[0])
    words = answer.context["point_data"]["reasons"]["beyond"]
    said = " ".join(answer.content.decode().split("</output>")[0].split())
    assert (words in said) == point.is_beyond == (make is not make_lit_survey)


def test_a_map_that_leaves_its_lamps_out_works_nothing_out_from_them(as_user, owner, tank):
    client = as_user(owner)
    make_survey_unlike_its_lamp(tank)
    without = get(client, tank).context["point_data"]["reasons"]["model"]
    tank.surveys.all().delete()
    make_lit_survey(tank)
    assert get(client, tank).context["point_data"]["reasons"]["model"] != without


def test_a_slant_opens_without_a_point(as_user, owner, lit):
    answer = get(as_user(owner), lit, "?seen=3d")
    assert answer.context["point"] is None and answer.context["point_data"]["opening"] is None


def test_point_leads_to_a_coral_there(as_user, owner, viewer, lit):
    at = "?x=12&y=34&depth=5"
    answer = why(as_user(owner), lit, at)
    assert answer.context["coral_url"].endswith("?x_cm=12.0&y_cm=34.0&depth_cm=5.0")
    assert answer.context["coral_url"].replace("&", "&amp;") in answer.content.decode()
    assert reverse("coral_new", args=[lit.pk]) not in why(as_user(viewer), lit, at).content.decode()


def read_here(client, tank, **place):
    return client.post(reverse("light_map_read", args=[tank.pk]), place)


def test_reading_here_adds_the_point_to_the_survey_of_today(as_user, owner, tank):
    survey = make_survey(tank, taken_at=timezone.now())
    for _ in range(2):
        answer = read_here(as_user(owner), tank, x="12cm", y="34cm", depth="5cm")
        assert answer.url == reverse("survey_enter", args=[survey.pk])
    points = survey.planned_points.all()
    assert [(p.x_cm, p.y_cm, p.depth_cm) for p in points] == [(12, 34, 5)]


def test_reading_here_begins_a_survey_that_has_the_point(as_user, owner, tank):
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=3))
    client = as_user(owner)
    new = read_here(client, tank, x="12cm", y="34cm", depth="5cm").url
    assert new.startswith(reverse("survey_new", args=[tank.pk]))
    form = client.get(new).context["form"]
    sent = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    answer = client.post(new, sent)
    survey = tank.surveys.order_by("-pk").first()
    assert answer.url == reverse("survey_enter", args=[survey.pk])
    assert [(p.x_cm, p.depth_cm) for p in survey.planned_points.all()] == [(12, 5)]


@pytest.mark.parametrize("place", [{}, {"x": "1", "y": "2"}, {"x": "a", "y": "2", "depth": "3"}])
def test_reading_here_without_a_point_leads_back(as_user, owner, tank, place):
    survey = make_survey(tank, taken_at=timezone.now())
    assert read_here(as_user(owner), tank, **place).url == reverse("light_map", args=[tank.pk])
    assert not survey.planned_points.exists()


def test_only_those_who_may_write_read_here(as_user, viewer, stranger, tank):
    survey = make_survey(tank, taken_at=timezone.now())
    place = {"x": "12cm", "y": "34cm", "depth": "5cm"}
    assert read_here(as_user(viewer), tank, **place).status_code == 403
    assert read_here(as_user(stranger), tank, **place).status_code == 404
    assert not survey.planned_points.exists()
