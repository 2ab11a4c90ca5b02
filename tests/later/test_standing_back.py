"""What is made ahead of those who may ask stands back while a process is busy with pages."""

import datetime as dt

import pytest
from django.http import HttpResponse
from django.test import RequestFactory
from django.utils import timezone

from apps.later import behind, traffic
from apps.later.kinds import KINDS, JobKind
from apps.later.models import Job
from apps.later.queue import PUT_OFF_MAX, put_down_once
from apps.later.state import STUCK, jobs_state
from apps.later.traffic import Traffic, TrafficMiddleware
from tests.factories import make_job

DELAY = dt.timedelta(seconds=3)


@pytest.fixture
def clock():
    """A clock that stands until a test moves it on."""
    return [100.0]


@pytest.fixture
def pages(clock, monkeypatch):
    """The traffic of this process, with nothing under way."""
    made = Traffic(lambda: clock[0])
    monkeypatch.setattr(traffic, "TRAFFIC", made)
    monkeypatch.setattr(behind, "TRAFFIC", made)
    return made


@pytest.fixture
def done(monkeypatch, settings):
    """The names of jobs that were run; there are one that stands back and one that does not."""
    settings.JOBS = "thread"
    names = []
    for name, stands_back in (("warm", True), ("write", False)):
        run = lambda work, name=name: names.append(name)  # noqa: E731
        monkeypatch.setitem(KINDS, name, JobKind(name, run, stands_back=stands_back))
    return names


def serve(pages, clock, *, seconds):
    with pages.request():
        clock[0] += seconds


def test_a_process_is_busy_while_a_request_is_under_way(pages, clock):
    assert not pages.is_busy
    with pages.request():
        assert pages.is_busy
    assert not pages.is_busy


# A fifth of the last seconds, which fade with a time of 2 s: 2 s x ln(1 / 0.8) = 0.446 s.
@pytest.mark.parametrize(("seconds", "busy"), [(0.44, False), (0.45, True)])
def test_it_stays_busy_after_a_long_request(pages, clock, seconds, busy):
    serve(pages, clock, seconds=seconds)
    assert pages.is_busy is busy


def test_it_comes_to_rest_within_seconds_of_a_full_hour(pages, clock):
    serve(pages, clock, seconds=3600)
    clock[0] += 3.2
    assert pages.is_busy
    clock[0] += 0.1
    assert not pages.is_busy


# A request of 50 ms each so many seconds.
@pytest.mark.parametrize(("each_s", "busy"), [(1.0, False), (0.15, True)])
def test_what_counts_is_how_much_of_the_time_pages_take(pages, clock, each_s, busy):
    for _ in range(200):
        serve(pages, clock, seconds=0.05)
        clock[0] += each_s - 0.05
    assert pages.is_busy is busy


def test_requests_beside_each_other_are_counted_each(pages):
    with pages.request():
        with pages.request():
            pass
        assert pages.is_busy


@pytest.mark.parametrize("breaks", [False, True])
def test_the_middleware_counts_a_request_that_breaks_too(pages, breaks):
    seen = []

    def answer(request):
        seen.append(pages.is_busy)
        if breaks:
            raise ZeroDivisionError
        return HttpResponse()

    try:
        TrafficMiddleware(answer)(RequestFactory().get("/"))
    except ZeroDivisionError:
        assert breaks
    assert seen == [True] and not pages.is_busy


def test_it_waits_while_pages_are_asked_and_others_run(db, done, pages, clock):
    make_job(name="warm"), make_job(name="write")
    with pages.request():
        assert behind.run_due() == 1 and done == ["write"]
    assert behind.run_due() == 1 and done == ["write", "warm"]


def test_a_request_that_comes_between_two_holds_the_second_back(db, done, pages, monkeypatch):
    coming = pages.request()
    run = lambda work: (done.append("warm"), coming.__enter__())  # noqa: E731
    monkeypatch.setitem(KINDS, "warm", JobKind("warm", run, stands_back=True))
    make_job(name="warm", subject="one"), make_job(name="warm", subject="two")
    assert behind.run_due() == 1 and done == ["warm"]


def test_what_is_saved_again_meanwhile_is_the_same_job(
    db, done, pages, django_capture_on_commit_callbacks
):
    def save():
        with django_capture_on_commit_callbacks(execute=True):
            put_down_once("warm", subject="tank 1", arguments={}, delay=DELAY)

    save()
    made_at = timezone.now() - PUT_OFF_MAX - DELAY
    Job.objects.update(made_at=made_at, due_at=made_at + PUT_OFF_MAX)
    with pages.request():
        behind.run_due()
        save(), save()
    assert Job.objects.count() == 1
    assert behind.run_due() == 1 and done == ["warm"]


def waits_since(minutes, **fields):
    since = timezone.now() - dt.timedelta(minutes=minutes)
    return make_job(name="warm", made_at=since, due_at=since + DELAY, **fields)


@pytest.mark.parametrize(("minutes", "state"), [(4.9, "waiting"), (5.1, "done")])
def test_where_a_process_stays_busy_it_is_left_out(db, done, pages, minutes, state):
    waits_since(minutes)
    with pages.request():
        assert behind.run_due() == 0
    job = Job.objects.get()
    assert (job.state, job.outcome.get("left_out", False)) == (state, state == "done")
    assert done == []


def test_what_waited_longer_still_runs_where_it_is_quiet(db, done, pages):
    waits_since(9)
    assert behind.run_due() == 1 and done == ["warm"]


def test_nobody_who_may_do_it_lets_it_be_stuck(db, done, pages):
    waits_since(STUCK.total_seconds() / 60 + 1)
    assert jobs_state(timezone.now()).stuck == 1
    with pages.request():
        behind.run_due()
    assert jobs_state(timezone.now()).stuck == 0
    assert behind.PATIENCE + PUT_OFF_MAX + dt.timedelta(seconds=behind.LOOK_S) < STUCK


def test_one_that_others_wait_for_is_never_left_out(db, done, pages):
    since = timezone.now() - dt.timedelta(hours=1)
    make_job(name="write", made_at=since, due_at=since)
    with pages.request():
        assert behind.leave_out() == 0
        assert behind.run_due() == 1 and done == ["write"]


def test_the_thread_looks_again_once_pages_have_come_to_rest(db, done, pages, clock, monkeypatch):
    monkeypatch.setattr(behind, "ASK_S", 0.01)
    looked = []
    going = pages.request()
    going.__enter__()
    behind.wake_when_quiet()
    monkeypatch.setattr(behind._awake, "wait", lambda s: looked.append(s) or end_third())

    def end_third():
        if len(looked) == 3:
            going.__exit__(None, None, None)
            clock[0] += 10
        return False

    behind._wait(60)
    assert len(looked) == 3
    behind._stands_back.clear()
