"""Two lights side by side: what can be chosen, the sentence, the difference, who may look."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.factories import (
    grid_readings,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_meter,
    make_survey,
    make_tank,
)

NOW = timezone.now()
MONTH = dt.timedelta(days=30)


def compare(client, tank, **query):
    return client.get(reverse("light_compare", args=[tank.pk]), query)


def shown(client, tank, **query):
    return compare(client, tank, **query).context["shown"]


def surveyed(tank, share, when, **more):
    rows = [(x, y, depth, value * share) for x, y, depth, value in grid_readings(tank)]
    return make_survey(tank, readings=rows, taken_at=when, **more)


@pytest.fixture
def twice(owner, tank):
    """Two surveys with one meter: a quarter more light at the second."""
    meter = make_meter(owner)
    return surveyed(tank, 1.0, NOW - MONTH, meter=meter), surveyed(tank, 1.25, NOW, meter=meter)


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_the_two_newest_surveys_are_compared_first(request, as_user, tank, twice, reader):
    result = shown(as_user(request.getfixturevalue(reader)), tank)
    assert result.percent == pytest.approx(25, abs=0.5) and result.way == "brighter than"
    # All of it but what lies beyond the readings, a quarter or so of the area.
    assert result.change.brighter_percent > 70 and result.change.dimmer_percent == 0


def test_stranger_finds_nothing(as_user, stranger, tank, twice):
    assert compare(as_user(stranger), tank).status_code == 404


def test_order_of_the_two_is_the_readers(as_user, owner, tank, twice):
    first, second = twice
    result = shown(as_user(owner), tank, a=f"survey-{second.pk}", b=f"survey-{first.pk}")
    assert result.percent == pytest.approx(-20, abs=0.5) and result.way == "dimmer than"


def test_both_are_drawn_on_the_one_scale(as_user, owner, tank, twice):
    first, second = shown(as_user(owner), tank).drawings
    assert first.legend == second.legend and first.light.bands and second.light.labels


def test_what_is_within_the_uncertainty_has_dots_and_the_rest_none(as_user, owner, tank):
    surveyed(tank, 1.0, NOW - MONTH)
    surveyed(tank, 1.0, NOW)
    same = compare(as_user(owner), tank)
    assert same.context["shown"].change.noise_percent > 95
    assert same.context["shown"].way == "the same as"
    assert 'url(#noise-change)"' in same.content.decode()


@pytest.mark.parametrize("when", ["a_day", "a"])
def test_dates_on_both_sides_of_a_change_differ_by_it(as_user, owner, tank, when):
    make_lit_survey(tank, taken_at=NOW - MONTH)
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=10), factor=0.5)
    day = (NOW - dt.timedelta(days=12)).date().isoformat()
    wish = {when: day if when == "a_day" else f"day-{day}"}
    result = shown(as_user(owner), tank, b=f"day-{tank.today()}", **wish)
    assert result.change.middle == pytest.approx(0.5, rel=1e-3)
    # The map is the same on both dates, so its own error is no part of the difference.
    assert result.change.dimmer_percent > 70


def test_survey_stands_against_its_forecast(as_user, owner, tank, twice):
    second = twice[1]
    result = shown(as_user(owner), tank, a=f"forecast-{second.pk}", b=f"survey-{second.pk}")
    assert result.percent == pytest.approx(25, abs=2)


def test_two_tanks_a_person_sees_are_compared(as_user, owner, viewer, tank, twice):
    bigger = make_tank(owner=owner, name="The bigger", length_cm=120)
    surveyed(bigger, 2.0, NOW)
    result = shown(as_user(owner), tank, a=f"tank-{bigger.pk}", b=f"day-{tank.today()}")
    assert result.change is None and result.first.name == "The bigger"
    assert result.percent < 0
    # A friend of one tank is no friend of the other.
    answer = compare(as_user(viewer), tank, a=f"tank-{bigger.pk}")
    assert "The bigger" not in answer.content.decode()
    assert answer.context["a"].key != f"tank-{bigger.pk}"


def test_depth_is_the_readers_and_held_to_the_water(as_user, owner, tank, twice):
    assert shown(as_user(owner), tank, depth="12").depth_cm == 12
    assert shown(as_user(owner), tank, depth="500").depth_cm == tank.depth_cm


@pytest.mark.parametrize(
    "query", [{"a": "day-2026-13-40"}, {"a": "nonsense", "b": "plan-1-1"}, {"a_day": "soon"}]
)
def test_what_cannot_be_read_is_the_usual(as_user, owner, tank, twice, query):
    assert shown(as_user(owner), tank, **query).percent == pytest.approx(25, abs=0.5)


def test_a_light_that_is_not_known_is_named(as_user, owner, tank):
    make_survey(tank)
    make_survey(tank, readings=grid_readings(tank)[:1], taken_at=NOW - 40 * MONTH)
    survey = tank.surveys.order_by("taken_at").first()
    answer = compare(as_user(owner), tank, a=f"survey-{survey.pk}")
    assert "shown" not in answer.context and len(answer.context["problems"]) == 1


@pytest.mark.parametrize("surveys", [0, 1])
def test_with_one_light_there_is_nothing_to_compare(as_user, owner, tank, surveys):
    for _ in range(surveys):
        make_survey(tank)
    answer = compare(as_user(owner), tank)
    assert answer.status_code == 200
    assert ("shown" in answer.context) == bool(surveys)


def test_map_surveys_and_review_lead_there(as_user, owner, tank, twice):
    make_coral(tank)
    client, here = as_user(owner), reverse("light_compare", args=[tank.pk])
    for name, pk in (
        ("light_map", tank.pk),
        ("survey_list", tank.pk),
        ("survey_review", twice[1].pk),
    ):
        assert here in client.get(reverse(name, args=[pk])).content.decode()
