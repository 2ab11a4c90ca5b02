"""A job is in effect once, however often it is delivered and whoever dies over it."""

import datetime as dt
import os
import threading

import pytest
from django.core.files.base import ContentFile
from django.db import OperationalError, connections, transaction
from django.db.models import F
from django.utils import timezone

from apps.later import behind, queue
from apps.later.clearing import KEPT, drop_ended_jobs
from apps.later.kinds import KINDS, JobKind
from apps.later.models import Job
from apps.later.queue import PUT_OFF_MAX, put_down, put_down_once, put_down_unless_there
from apps.later.running import (
    BROKEN,
    GIVEN_UP,
    LEASE,
    REST,
    TRIES_MAX,
    Refused,
    claim,
    due_jobs,
    held_by,
    run_job,
)
from apps.tanks.models import Tank
from tests.factories import make_job, make_tank

NOW = timezone.now()
DELAY = dt.timedelta(seconds=4)


def grow(work, *, tank_pk):
    """Make a tank a cm longer, and end the job in the same transaction."""
    with transaction.atomic():
        Tank.objects.filter(pk=tank_pk).update(length_cm=F("length_cm") + 1)
        work.settle({"tank_pk": tank_pk})


def refuse(work):
    raise Refused("Line 12 has no date.")


def crash(work):
    raise ZeroDivisionError


def find_no_database(work):
    raise OperationalError("gone")


@pytest.fixture
def kinds(monkeypatch):
    """The kinds of job that there are while a test runs."""
    for name, run in (("grow", grow), ("refuse", refuse), ("crash", crash)):
        monkeypatch.setitem(KINDS, name, JobKind(name, run))
    monkeypatch.setitem(KINDS, "no database", JobKind("no database", find_no_database))
    return KINDS


@pytest.fixture
def grown(tank, kinds):
    """A job that waits, and how often it was in effect."""
    job = make_job(name="grow", arguments={"tank_pk": tank.pk})
    before = tank.length_cm

    def times():
        tank.refresh_from_db()
        return tank.length_cm - before

    return job, times


def silent(job, *, tries=1):
    """Leave a job as a worker does that was killed over it."""
    job.state, job.tries, job.alive_at = "running", tries, timezone.now() - LEASE * 1.1
    job.save()
    return job


# --- Once -----------------------------------------------------------------------------------
def test_a_job_delivered_twice_is_in_effect_once(grown):
    job, times = grown
    assert (run_job(job.pk), run_job(job.pk)) == (True, False)
    job.refresh_from_db()
    assert (
        times() == 1
        and job.state == "done"
        and job.outcome == {"tank_pk": job.arguments["tank_pk"]}
    )


def test_of_two_at_once_one_has_it(transactional_db, kinds):
    tank = make_tank()
    job, length = make_job(name="grow", arguments={"tank_pk": tank.pk}), tank.length_cm
    gate, ran = threading.Barrier(4), []

    def deliver():
        gate.wait()
        ran.append(run_job(job.pk))
        connections.close_all()

    threads = [threading.Thread(target=deliver) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    tank.refresh_from_db()
    assert sorted(ran) == [False, False, False, True] and tank.length_cm == length + 1


def test_one_that_is_not_due_waits(grown):
    job, times = grown
    Job.objects.update(due_at=timezone.now() + DELAY)
    assert not run_job(job.pk) and times() == 0


# --- Whose worker died ----------------------------------------------------------------------
def test_a_job_whose_worker_fell_silent_is_taken_up(grown):
    job, times = grown
    silent(job)
    assert run_job(job.pk) and times() == 1


def test_one_whose_worker_speaks_is_left_to_it(grown):
    job, times = grown
    silent(job)
    Job.objects.update(alive_at=timezone.now() - LEASE * 0.9)
    assert not run_job(job.pk) and times() == 0


def test_who_lost_a_job_writes_nothing_any_more(grown, kinds, monkeypatch):
    job, times = grown

    def slow(work, *, tank_pk):
        Job.objects.update(alive_at=timezone.now() - LEASE * 2)
        monkeypatch.setitem(KINDS, "grow", JobKind("grow", grow))
        assert run_job(job.pk)
        grow(work, tank_pk=tank_pk)

    monkeypatch.setitem(KINDS, "grow", JobKind("grow", slow))
    assert run_job(job.pk) and times() == 1
    job.refresh_from_db()
    assert job.state == "done" and job.tries == 2


def test_one_that_never_ends_is_given_up(grown):
    job, times = grown
    silent(job, tries=TRIES_MAX)
    assert not run_job(job.pk) and times() == 0
    job.refresh_from_db()
    assert (job.state, job.problem) == ("failed", GIVEN_UP)


# --- What goes wrong ------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("name", "problem"), [("refuse", "Line 12 has no date."), ("crash", BROKEN)]
)
def test_a_job_that_fails_says_why(db, kinds, name, problem):
    job = make_job(name=name)
    run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.problem) == ("failed", problem)


def test_without_a_database_it_is_tried_again_a_little_later(db, kinds):
    job = make_job(name="no database")
    run_job(job.pk)
    now = timezone.now()
    assert not due_jobs(now).exists() and due_jobs(now + REST).exists()
    for _ in range(TRIES_MAX):
        Job.objects.filter(state="running").update(alive_at=now - LEASE * 2)
        run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.tries) == ("failed", TRIES_MAX)


def test_a_job_of_another_version_fails_and_stops_nothing(db):
    job = make_job(name="of tomorrow")
    assert run_job(job.pk)
    job.refresh_from_db()
    assert job.state == "failed"


# --- Put down -------------------------------------------------------------------------------
def test_it_runs_once_its_transaction_holds(owner, tank, kinds, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        job = put_down("grow", keeper=owner, arguments={"tank_pk": tank.pk})
        assert job.state == "waiting"
    job.refresh_from_db()
    assert job.state == "done"


def test_a_transaction_taken_back_takes_its_job_back(transactional_db, kinds):
    tank = make_tank()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        put_down("grow", arguments={"tank_pk": tank.pk})
        raise ZeroDivisionError
    assert not Job.objects.exists()


@pytest.fixture
def behind_pages(settings, monkeypatch):
    """Jobs wait for a thread, which no test starts."""
    settings.JOBS = queue.THREAD
    woken = []
    monkeypatch.setattr(behind, "wake", lambda: woken.append(1))
    return woken


def wait_once(callbacks, subject="tank 1"):
    with callbacks(execute=True):
        put_down_once("grow", subject=subject, arguments={"tank_pk": 1}, delay=DELAY)


def test_of_one_subject_one_waits_and_is_put_off(
    db, kinds, behind_pages, django_capture_on_commit_callbacks
):
    wait_once(django_capture_on_commit_callbacks)
    Job.objects.update(due_at=F("due_at") - DELAY / 2)
    before = Job.objects.get().due_at
    wait_once(django_capture_on_commit_callbacks)
    assert Job.objects.get().due_at > before and len(behind_pages) == 1


def test_it_is_not_put_off_for_ever(db, kinds, behind_pages, django_capture_on_commit_callbacks):
    wait_once(django_capture_on_commit_callbacks)
    Job.objects.update(made_at=timezone.now() - PUT_OFF_MAX, due_at=timezone.now())
    before = Job.objects.get().due_at
    wait_once(django_capture_on_commit_callbacks)
    assert Job.objects.get().due_at == before


def test_what_comes_while_one_runs_waits_for_the_next(
    db, kinds, behind_pages, django_capture_on_commit_callbacks
):
    make_job(name="grow", subject="tank 1", state="running", alive_at=timezone.now())
    wait_once(django_capture_on_commit_callbacks)
    wait_once(django_capture_on_commit_callbacks, subject="tank 2")
    assert Job.objects.filter(state="waiting").count() == 2


@pytest.mark.parametrize("names", ["wait_once", "put_down"])
def test_what_was_saved_stands_though_its_job_cannot_be_put_down(
    transactional_db, kinds, monkeypatch, caplog, names
):
    def locked(*_args):
        raise OperationalError("database is locked")

    monkeypatch.setattr(queue, "_wait_once", locked)
    monkeypatch.setattr(queue, "hand_over", locked)
    later = []
    with transaction.atomic():
        tank = make_tank()
        if names == "wait_once":
            put_down_once("grow", subject="tank 1", arguments={"tank_pk": tank.pk}, delay=DELAY)
        else:
            put_down("grow", arguments={"tank_pk": tank.pk})
        transaction.on_commit(lambda: later.append(tank.pk))
    assert later == [tank.pk] and Tank.objects.filter(pk=tank.pk).exists()
    assert any("database is locked" in record.getMessage() for record in caplog.records)


def test_a_thread_runs_all_that_is_due_in_turn(grown, kinds):
    _, times = grown
    make_job(name="crash", due_at=NOW - DELAY)
    make_job(name="refuse", due_at=timezone.now() + DELAY)
    assert behind.run_due() == 2 and times() == 1
    assert Job.objects.filter(state="waiting").count() == 1


# --- What stays -----------------------------------------------------------------------------
def test_jobs_that_ended_go_after_a_week_with_their_files(db, django_capture_on_commit_callbacks):
    old, fresh = make_job(state="done"), make_job(state="failed")
    old.file.save("", ContentFile(b"zip"), save=True)
    storage, path = old.file.storage, old.file.name
    now = timezone.now()
    Job.objects.filter(pk=old.pk).update(ended_at=now - KEPT * 1.01)
    Job.objects.filter(pk=fresh.pk).update(ended_at=now - KEPT * 0.99)
    with django_capture_on_commit_callbacks(execute=True):
        assert len(list(drop_ended_jobs(now))) == 1
    assert Job.objects.get() == fresh and not storage.exists(path)


def test_files_that_no_job_names_go_after_a_day(db, django_capture_on_commit_callbacks):
    job = make_job(state="done", ended_at=timezone.now())
    job.file.save("", ContentFile(b"zip"), save=True)
    storage = job.file.storage
    left = storage.save("jobs/left.zip", ContentFile(b"half a zi"))
    # The file system's clock is not the one that tests set (tests/midnight.py).
    saved_s = timezone.now().timestamp()
    os.utime(storage.path(left), (saved_s, saved_s))
    with django_capture_on_commit_callbacks(execute=True):
        assert not list(drop_ended_jobs(timezone.now()))
        assert storage.exists(left)
        later = timezone.now() + dt.timedelta(days=1, minutes=1)
        assert len(list(drop_ended_jobs(later))) == 1
    assert storage.exists(job.file.name) and not storage.exists(left)


def test_jobs_go_with_their_keeper(owner, django_capture_on_commit_callbacks):
    make_job(owner)
    owner.delete()
    assert not Job.objects.exists()


def test_a_claim_is_the_claimants_alone(db):
    job = make_job()
    mine = claim(job.pk)
    assert held_by(mine).exists() and claim(job.pk) is None and not held_by(job).exists()


@pytest.mark.django_db
@pytest.mark.parametrize("seen", [queue.UNFINISHED, ()])
def test_two_clicks_put_one_job_down(kinds, monkeypatch, settings, seen):
    tank = make_tank()
    click = {"subject": "a file", "keeper": tank.owner, "arguments": {"tank_pk": tank.pk}}
    first = put_down_unless_there("grow", file=ContentFile(b"1", name=".csv"), **click)
    # The second may look before the first has put its own down.
    monkeypatch.setattr(queue, "UNFINISHED", seen)
    assert put_down_unless_there("grow", file=ContentFile(b"2", name=".csv"), **click) == first
    assert len(list((settings.MEDIA_ROOT / "jobs").iterdir())) == 1
