"""The light map page for those who may see it, in every state, and its swapped part."""

import datetime as dt
import re

import pytest
from django.core.cache import caches
from django.urls import reverse
from django.utils import timezone

from apps.lightmap.pins import PINS, Pin
from tests.factories import make_light_change, make_rock, make_survey, make_tank

NOW = timezone.now()
HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def no_fits_of_other_tests():
    caches["maps"].clear()


def page(client, tank, query="", **options):
    return client.get(reverse("light_map", args=[tank.pk]) + query, **options)


def text_of(response):
    """Return the page's words with tags and runs of space gone."""
    body = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", body)


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_those_let_in_see_the_map(request, as_user, tank, reader):
    make_survey(tank)
    response = page(as_user(request.getfixturevalue(reader)), tank)
    assert response.status_code == 200 and b'data-plane="plan"' in response.content


def test_stranger_finds_nothing_swapped_or_whole(as_user, stranger, tank):
    make_survey(tank)
    client = as_user(stranger)
    assert page(client, tank).status_code == 404
    assert page(client, tank, headers=HTMX).status_code == 404


def test_survey_of_another_tank_is_not_shown(as_user, owner, tank):
    mine = make_survey(tank)
    other = make_survey(make_tank(name="Not yours"))
    response = page(as_user(owner), tank, f"?survey={other.pk}")
    assert response.context["page"].survey == mine


def test_tank_without_surveys_says_what_a_map_needs(as_user, owner, tank):
    response = page(as_user(owner), tank)
    assert 'id="unread-problem"' in response.content.decode()
    assert reverse("survey_new", args=[tank.pk]) in response.content.decode()


def test_removed_survey_is_gone_from_the_map(as_user, owner, tank):
    make_survey(tank).remove()
    shown = page(as_user(owner), tank).context["page"]
    assert shown.survey is None and shown.light is None


@pytest.mark.parametrize(
    ("readings", "sentence"),
    [
        ([], "no readings yet"),
        ([(10, 10, 10, 90)] * 6, "there is 1"),
        (
            [(10, 10, 10, 0), (20, 20, 20, 0), (30, 9, 9, 0), (50, 50, 9, 0)],
            "Every reading is zero",
        ),
    ],
)
def test_readings_that_carry_no_map_get_a_sentence(as_user, owner, tank, readings, sentence):
    make_survey(tank, readings=readings)
    response = page(as_user(owner), tank)
    assert sentence in text_of(response) and b"data-plane" not in response.content


@pytest.mark.parametrize(
    ("readings", "sentence"),
    [
        ([(x, y, 20, 90 + x + y) for x in (10, 50) for y in (10, 50)], "at about one depth"),
        ([(30, 30, d, 300 - d) for d in (5, 15, 25, 35, 45)], "one above the other"),
        ([(x, 30, 10 + x / 2, 200 - x) for x in (10, 20, 40, 50)], "on one line"),
        ([(x, y, d, 120) for x in (10, 50) for y in (10, 50) for d in (9, 40)], "are equal"),
        ([(x, y, d, 99 + d) for x in (9, 50) for y in (9, 50) for d in (9, 9, 40)], "share a spot"),
    ],
)
def test_readings_that_leave_things_open_get_a_map_and_a_sentence(
    as_user, owner, tank, readings, sentence
):
    make_survey(tank, readings=readings)
    response = page(as_user(owner), tank)
    assert sentence in text_of(response) and b'data-plane="plan"' in response.content


def test_reading_that_disagrees_is_listed_with_what_the_others_say(as_user, owner, tank):
    survey = make_survey(tank)
    wrong = survey.readings.get(position=14)
    wrong.value_umol *= 10
    wrong.save()
    response = page(as_user(owner), tank)
    assert [row.number for row in response.context["page"].disagreeing] == [14]
    assert 'data-reading="14"' in response.content.decode()


def test_light_change_since_is_told_with_its_factor(as_user, owner, tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=5), summary="Raised the lamp")
    response = page(as_user(owner), tank)
    (change,) = response.context["page"].light.changes
    assert (change.summary, change.factor) == ("Raised the lamp", 0.8)
    assert response.context["page"].light.shown == "today" and "factor 0.8" in text_of(response)


def test_page_says_when_it_shows_what_was_measured(as_user, owner, tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=5))
    shown = page(as_user(owner), tank, "?shown=measured").context["page"]
    assert shown.light.shown == "measured" and shown.light.changes


def test_htmx_gets_the_drawings_alone_and_their_address(as_user, owner, tank):
    survey = make_survey(tank)
    response = page(as_user(owner), tank, "?depth=12&y=20", headers=HTMX)
    body = response.content.decode()
    assert "<html" not in body and 'id="map-plan"' in body
    assert body.count('hx-swap-oob="true"') == 6
    assert response["HX-Replace-Url"] == (
        f"/tanks/{tank.pk}/map/?survey={survey.pk}&depth=12cm&y=20cm&low=75&high=150&shown=measured"
    )


def test_same_depth_shows_the_same_map_with_and_without_htmx(as_user, owner, tank):
    make_survey(tank)
    client = as_user(owner)
    whole = page(client, tank, "?depth=12").content.decode()
    part = page(client, tank, "?depth=12", headers=HTMX).content.decode()
    plan = re.compile(r'<div id="map-plan">.*?</svg>', re.S)
    assert plan.search(whole).group() == plan.search(part).group()


def test_depth_outside_the_water_is_told_and_the_nearest_shown(as_user, owner, tank):
    make_survey(tank)
    response = page(as_user(owner), tank, "?depth=80")
    assert len(response.context["page"].query.problems) == 1
    assert b'role="alert"' in response.content
    assert response.context["page"].view.depth_cm == 50


def test_inches_are_shown_to_who_reads_inches(as_user, owner, tank):
    make_survey(tank)
    owner.units = "in"
    owner.save()
    shown = page(as_user(owner), tank, "?depth=10")
    assert shown.context["page"].view.depth_cm == pytest.approx(25.4)
    assert "10 in below" in text_of(shown)


def test_pins_are_numbered_and_linked(as_user, owner, tank, monkeypatch):
    make_survey(tank)
    pin = Pin("Acan & <co>", 30, 30, 25, url="/corals/7/", band_low_umol=1, band_high_umol=9)
    monkeypatch.setattr(PINS, "providers", [lambda tank, day: [pin]])
    body = " ".join(page(as_user(owner), tank).content.decode().split())
    assert '<a href="/corals/7/">Acan &amp; &lt;co&gt;</a>' in body
    assert "state--above" in body and "1.0–9.0" in body


def test_table_tells_the_values_of_the_depth(as_user, owner, tank):
    make_survey(tank)
    response = page(as_user(owner), tank, "?depth=10")
    shown = response.context["page"]
    assert shown.table.x_cm == (0, 10, 20, 30, 40, 50, 60)
    assert [row[0] for row in shown.table.rows] == [60, 50, 40, 30, 20, 10, 0]
    assert f"{shown.table.rows[3][1][3]['par']:.0f}" in text_of(response)


def test_page_has_no_inline_style_and_no_foreign_address(as_user, owner, tank):
    make_survey(tank)
    make_rock(tank)
    body = page(as_user(owner), tank).content.decode()
    assert " style=" not in body
    assert not re.search(r'(?:src|href)="(?:https?:)?//', body)


def test_page_asks_the_database_little(as_user, owner, tank, django_assert_max_num_queries):
    for days in range(3):
        make_survey(tank, taken_at=NOW - dt.timedelta(days=days))
    client = as_user(owner)
    # Session, reader, tank, right to write, rocks, surveys, readings, changes; pins on top.
    with django_assert_max_num_queries(12):
        page(client, tank)


@pytest.mark.parametrize(("reader", "invited"), [("owner", True), ("viewer", False)])
def test_only_those_who_may_write_are_invited_to(request, as_user, tank, reader, invited):
    client = as_user(request.getfixturevalue(reader))
    body = page(client, tank).content.decode()
    assert (reverse("survey_new", args=[tank.pk]) in body) == invited
    survey = make_survey(tank, readings=[])
    body = page(client, tank).content.decode()
    assert (reverse("survey_readings", args=[survey.pk]) in body) == invited
