"""A layout's search behind the pages: one job at a time, until it is done or stopped."""

import datetime as dt

import pytest
from django.db import OperationalError
from django.urls import reverse
from django.utils import timezone

from apps.later import behind
from apps.later.models import Job
from apps.photics.layout.search import Search
from apps.planning.layout import searching
from apps.planning.layout.searching import (
    SEARCH,
    advance_search,
    searched_plan,
    stop_search,
    take_turn,
)
from apps.planning.models import Plan
from tests.planning.questions import make_layout_plan

pytestmark = pytest.mark.one_database


@pytest.fixture
def plan(owner, tank):
    plan = make_layout_plan(owner, tank)
    advance_search(plan=plan, seconds=0)
    return plan


@pytest.fixture
def turn(settings, monkeypatch, django_capture_on_commit_callbacks):
    """Return a function that takes a turn as a page does where jobs run behind it."""
    settings.JOBS = "thread"
    monkeypatch.setattr(behind, "wake", lambda: None)
    monkeypatch.setattr(searching, "TURN_S", 0.0)

    def take(plan):
        with django_capture_on_commit_callbacks(execute=True):
            return take_turn(plan=plan)

    return take


def waiting():
    return Job.objects.filter(name=SEARCH, state="waiting").count()


def test_a_page_works_on_nothing_itself_and_one_job_does(plan, turn):
    step = plan.answer["step"]
    assert turn(plan).answer["step"] == step
    turn(plan)
    assert waiting() == 1


def test_the_job_searches_to_the_end(plan, turn):
    turn(plan)
    while behind.run_due():
        pass
    plan.refresh_from_db()
    assert plan.answer["finished"] and not waiting()


def test_after_a_stretch_others_have_their_turn(
    plan, turn, monkeypatch, django_capture_on_commit_callbacks
):
    turn(plan)
    monkeypatch.setattr(searching, "STRETCH_S", 0.0)
    with django_capture_on_commit_callbacks(execute=True):
        assert behind.run_due() == 1
    assert waiting() == 1


def test_while_a_job_searches_no_second_is_put_down(plan, turn):
    turn(plan)
    Job.objects.update(state="running", alive_at=timezone.now() + dt.timedelta(hours=1))
    turn(plan)
    assert Job.objects.count() == 1


@pytest.mark.parametrize("rest", [lambda p: stop_search(plan=p), lambda p: p.remove()])
def test_a_search_that_was_stopped_or_deleted_is_left_alone(plan, turn, rest):
    turn(plan)
    rest(plan)
    plan.refresh_from_db()
    before = plan.answer
    assert behind.run_due() == 1 and not waiting()
    plan.refresh_from_db()
    assert plan.answer == before


@pytest.fixture
def broken(monkeypatch):
    """Let every search break, by what a test says."""

    def breaks(problem):
        def advance(*_args):
            raise problem

        monkeypatch.setattr(Search, "advance", advance)

    return breaks


@pytest.mark.parametrize("is_begun", [True, False])
def test_a_search_that_breaks_rests_and_says_so(
    as_user, owner, plan, turn, broken, is_begun, django_capture_on_commit_callbacks
):
    if not is_begun:
        Plan.objects.update(answer={})
        plan.refresh_from_db()
    broken(ZeroDivisionError())
    turn(plan)
    assert behind.run_due() == 1
    client, address = as_user(owner), reverse("layout_detail", args=[plan.pk])
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("layout_search", args=[plan.pk]))
    got = client.get(address)
    page = got.context["page"]
    assert page.broke and not page.searching and not waiting()
    assert 'name="resume"' in got.content.decode() and "hx-post" not in part(got)
    assert Job.objects.get().state == "failed"


def part(got):
    """Return the part of a page that tells of the search."""
    return got.content.decode().partition('id="layout-answers"')[2].partition(">")[0]


def test_a_search_that_broke_is_taken_up_again(
    as_user, owner, plan, turn, monkeypatch, django_capture_on_commit_callbacks
):
    with monkeypatch.context() as patched:
        patched.setattr(Search, "advance", lambda *_args: 1 / 0)
        turn(plan)
        behind.run_due()
    with django_capture_on_commit_callbacks(execute=True):
        as_user(owner).post(reverse("layout_search", args=[plan.pk]), {"resume": "1"})
    while behind.run_due():
        pass
    plan.refresh_from_db()
    assert plan.answer["finished"] and not searched_plan(plan).broke


def test_a_busy_database_breaks_no_search(plan, turn, broken):
    broken(OperationalError("database is locked"))
    turn(plan)
    behind.run_due()
    plan.refresh_from_db()
    assert not searched_plan(plan).rests and Job.objects.get().state == "running"


def test_a_question_changed_meanwhile_is_searched_all_the_same(plan, turn, monkeypatch):
    asked = {**plan.asked, "day": "2001-01-01"}

    def advance(*_args):
        Plan.objects.update(asked=asked, answer={})
        raise ZeroDivisionError

    monkeypatch.setattr(Search, "advance", advance)
    turn(plan)
    behind.run_due()
    plan.refresh_from_db()
    assert plan.answer == {}


def test_a_page_waits_for_news_no_longer_than_a_turn(plan, turn, monkeypatch):
    monkeypatch.setattr(searching, "TURN_S", 5.0)
    looks = []

    def news(seconds):
        looks.append(seconds)
        advance_search(plan=type(plan).objects.get(pk=plan.pk), seconds=0)

    monkeypatch.setattr(searching.time, "sleep", news)
    step = plan.answer["step"]
    assert turn(plan).answer["step"] > step and len(looks) == 1


@pytest.mark.parametrize("name", ["layout_search", "api-plan-search"])
def test_pages_and_programs_put_the_job_down(
    as_user, owner, plan, turn, name, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        as_user(owner).post(reverse(name, args=[plan.pk]))
    assert waiting() == 1
