"""Pages of tanks with many events: which are shown, what is left out, what is worked out."""

import csv
import datetime as dt
import math
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.coral.event_rows import MARKS_MAX, marks_of
from apps.drawing.time_axis import TimeAxis
from apps.outcomes.association import correlation
from apps.outcomes.association.correlation import STEPS_MAX, tank_outcomes
from apps.outcomes.association.event_list import (
    EVENTS_A_PAGE,
    USUAL_DAYS,
    nearest,
    unhappy_first,
)
from apps.outcomes.association.strip import AFFECTED_MAX, CORALS_MAX, drawn_corals
from apps.outcomes.association.views import NEIGHBOURS_MAX, SIMILAR_MAX
from apps.outcomes.association.weighing import Direction, visits_of
from apps.outcomes.exposure import exposure
from tests.factories import make_coral, make_light_change, make_note, make_survey
from tests.outcomes.crowd import MANY, date_ago


def shown(client, url):
    """Return the names of the corals whose events a page tells, in order."""
    text = client.get(url).content.decode()
    return re.findall(r"<h3>(?:<a [^>]*>)?(Coral \d\d)", text)


def list_url(tank, query=""):
    return reverse("outcome_list", args=[tank.pk]) + query


def test_list_turns_pages(as_user, owner, crowded):
    client = as_user(owner)
    numbers = range(1, 1 + math.ceil(MANY / EVENTS_A_PAGE))
    pages = [shown(client, list_url(crowded, f"?page={n}")) for n in numbers]
    assert {len(page) for page in pages[:-1]} == {EVENTS_A_PAGE}
    assert [name for page in pages for name in page] == [f"Coral {k:02d}" for k in range(MANY)]


def test_coral_that_still_shows_it_comes_before_newer_events(tank):
    make_note(make_coral(tank, name="Better"), noted_on=date_ago(tank, 9))
    make_note(tank.corals.get(), noted_on=date_ago(tank, 2), seen="well")
    make_note(make_coral(tank, name="Gone", gone_on=tank.today()), noted_on=date_ago(tank, 12))
    make_note(make_coral(tank, name="Still"), noted_on=date_ago(tank, 25))
    make_note(make_coral(tank, name="Long ago"), noted_on=date_ago(tank, 31))
    outcomes = tank_outcomes(tank)
    found = unhappy_first(outcomes.events, outcomes.book, tank.today())
    assert [event.coral_name for event in found] == ["Still", "Better", "Gone", "Long ago"]


@pytest.mark.parametrize(("ago", "is_shown"), [(USUAL_DAYS - 2, True), (USUAL_DAYS + 2, False)])
def test_list_shows_half_a_year_unless_asked(as_user, owner, tank, ago, is_shown):
    for name, days in (("Coral 00", 1), ("Coral 01", ago), ("Coral 02", 400)):
        coral = make_coral(tank, name=name, since=date_ago(tank, 410))
        make_note(coral, noted_on=date_ago(tank, days))
    client = as_user(owner)
    assert ("Coral 01" in shown(client, list_url(tank))) == is_shown
    assert len(shown(client, list_url(tank, "?days=all"))) == 3


def test_every_compared_coral_is_in_the_csv(as_user, owner, crowded):
    answer = as_user(owner).get(reverse("outcome_export_corals", args=[crowded.pk]))
    rows = list(csv.DictReader(answer.content.decode().splitlines()))
    assert {row["coral"] for row in rows} == {f"Coral {k:02d}" for k in range(MANY)}
    assert all(float(row["for_its_band"]) > 0 and row["event_on"] for row in rows)


def test_page_of_one_event_works_out_few_others(as_user, owner, crowded, monkeypatch):
    worked_out, whole = [], correlation.event_light

    def counted(book, event, *rest):
        worked_out.append(event.pk)
        return whole(book, event, *rest)

    monkeypatch.setattr(correlation, "event_light", counted)
    pk = crowded.corals.first().notes.get().pk
    answer = as_user(owner).get(reverse("outcome_detail", args=[crowded.pk, pk]))
    assert worked_out[0] == pk and len(worked_out) == 1 + SIMILAR_MAX
    assert len(answer.context["neighbours"]) == NEIGHBOURS_MAX
    assert answer.context["similar_number"] == MANY - 1
    everyone = as_user(owner).get(reverse("outcome_detail", args=[crowded.pk, pk]) + "?all")
    assert len(everyone.context["neighbours"]) == MANY - 1


def test_similar_events_are_those_nearest_in_time(crowded):
    outcomes = tank_outcomes(crowded)
    event = outcomes.events[12]
    found = nearest(event, outcomes.like(event), 4)
    assert [other.coral_name for other in found] == [f"Coral {k}" for k in (10, 11, 13, 14)]


def test_strip_draws_all_of_a_small_tank_and_the_affected_of_a_large_one(crowded):
    for k in range(20):
        make_coral(crowded, name=f"Well {k}", at_cm=(30, 30, 5 + k), since=date_ago(crowded, 480))
    corals = tank_outcomes(crowded).comparisons[0].corals
    assert drawn_corals(corals[:CORALS_MAX]) == corals[:CORALS_MAX]
    drawn = drawn_corals(corals)
    assert len(drawn) == CORALS_MAX
    assert sum(coral.event is not None for coral in drawn) == AFFECTED_MAX


@pytest.mark.parametrize(("number", "joined"), [(MARKS_MAX, False), (MARKS_MAX * 3, True)])
def test_crowded_marks_are_joined(number, joined):
    end = timezone.now()
    axis = TimeAxis(end - dt.timedelta(days=360), end)
    step = (axis.end - axis.start) / number
    # In the middle of each step, so that none stands on the edge between two marks.
    moments = [axis.start + step * (k + 0.5) for k in range(number)]
    marks = marks_of([(moment, "Wiped") for moment in moments], axis, dt.UTC)
    assert len(marks) == MARKS_MAX
    assert marks[3].label.endswith("3 entries" if joined else "Wiped")


@pytest.mark.parametrize("number", [STEPS_MAX, STEPS_MAX + 3])
def test_event_tells_the_steps_that_changed_its_light_most(tank, number):
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=150))
    for k in range(number):
        at = timezone.now() - dt.timedelta(days=30 - k)
        make_light_change(tank, happened_at=at, factor=1 + 0.01 * (k + 1), day_hours=None)
    make_note(make_coral(tank), noted_on=tank.today())
    outcomes = tank_outcomes(tank)
    found = outcomes.lit(outcomes.events[0])
    assert found.steps_left_out == number - STEPS_MAX and len(found.steps) == STEPS_MAX
    assert found.steps[0].factor == pytest.approx(1.01 + 0.01 * found.steps_left_out)


@pytest.fixture
def changed(tank):
    """A tank of 12 turns of light: a survey, ten changes, and the day its corals came."""
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=150))
    for k in range(10):
        at = timezone.now() - dt.timedelta(days=100 - 10 * k)
        make_light_change(tank, happened_at=at, factor=1.05)
    for k, ago in enumerate((120, 55, 15)):
        coral = make_coral(tank, name=f"Coral {k:02d}", at_cm=(30, 30, 10 + k))
        make_note(coral, noted_on=date_ago(tank, ago))
    return tank


@pytest.mark.parametrize(("most", "weighed"), [(12, 3), (11, 3), (5, 1)])
def test_oldest_stretches_beyond_the_most_are_not_weighed(changed, monkeypatch, most, weighed):
    monkeypatch.setattr(exposure, "STRETCHES_MAX", most)
    outcomes = tank_outcomes(changed)
    assert len(outcomes.book.turns) == 12
    assert (outcomes.book.weighed_from is None) == (most == 12)
    assert len(outcomes.weighed) == weighed == outcomes.comparisons[0].n_events
    assert len(visits_of(outcomes.book, Direction.LIGHTER).day) == weighed


def test_csv_of_a_vast_tank_comes_in_parts_that_miss_no_note(as_user, owner, changed, monkeypatch):
    url = reverse("outcome_export", args=[changed.pk])

    def notes(part):
        text = as_user(owner).get(f"{url}?part={part}").content.decode()
        return [row["coral"] for row in csv.DictReader(text.splitlines())]

    assert notes(1) == ["Coral 00", "Coral 01", "Coral 02"]
    monkeypatch.setattr(exposure, "STRETCHES_MAX", 5)
    assert len(tank_outcomes(changed).book.parts) == 3
    assert [notes(part) for part in (1, 2, 3)] == [["Coral 02"], ["Coral 01"], ["Coral 00"]]


def test_page_says_from_when_it_weighs(as_user, owner, changed, monkeypatch):
    client = as_user(owner)
    pages = [reverse(name, args=[changed.pk]) for name in ("outcome_list", "outcome_weighing")]
    assert not any("on are weighed" in client.get(page).content.decode() for page in pages)
    monkeypatch.setattr(exposure, "STRETCHES_MAX", 5)
    assert all("on are weighed" in client.get(page).content.decode() for page in pages)
