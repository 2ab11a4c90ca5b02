"""Jobs on real workers of Celery, by a real Redis, over the run's own database."""

import os
import queue
import re
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager

import pytest
from django.core.management import call_command
from django.utils import timezone

from apps.hosting.doctor import checks
from apps.hosting.doctor.finding import State
from apps.later.models import Job
from apps.later.running import LEASE
from tests.factories import make_job, make_survey, make_tank
from tests.hosting.test_redis import PROGRAM, Redis
from tests.serving import ROOT, served_environment
from tests.test_environment import SERVED, manage

pytestmark = pytest.mark.skipif(
    PROGRAM is None and os.environ.get("CI") != "true",
    reason="Redis is not installed here (on Debian: apt install redis-server).",
)
WAIT_S = 60
# What a worker's log says of a message it is done with.
ANSWERED = re.compile(r"later\.run\[[\w-]+\] succeeded")


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    made = Redis(tmp_path_factory.mktemp("redis"))
    yield made
    made.kill()


@pytest.fixture(scope="class")
def data(server, tmp_path_factory):
    """The data folder of the workers of a test, or of a class, whose Redis is empty at first."""
    server.client().flushall()
    return tmp_path_factory.mktemp("data")


@pytest.fixture
def site(server, settings, data, transactional_db):
    """This process puts jobs down for the workers of the Redis."""
    settings.JOBS, settings.CELERY_BROKER = "celery", server.url
    settings.KEPT_DIR = data / "kept"
    from apps.later.celery_queue import app

    app.conf.update(broker_url=server.url, broker_write_url=server.url, broker_read_url=server.url)
    # Lines to the Redis of another class or module: Celery would try that one for ever.
    app._after_fork()
    return data


@contextmanager
def worker(site, server):
    """Let one worker with one process work; killed with all its processes at the end."""
    environment = served_environment(site) | {"REEFLOG_CELERY_BROKER": server.url}
    environment["REEFLOG_JOBS"] = "celery"
    words = ["-A", "tests.later.worker_app:app", "worker", "--concurrency", "1", "-l", "INFO"]
    with (site / "worker.log").open("ab") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "celery", *words],
            cwd=ROOT,
            env=environment,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    try:
        yield process
    finally:
        kill(process)


def kill(process):
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def until(holds, site):
    """Return what `holds` gives once it is true; what the worker says where it never is."""
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end:
        if result := holds():
            return result
        time.sleep(0.05)
    raise AssertionError((site / "worker.log").read_text()[-4000:])


def ended():
    return not Job.objects.exclude(state__in=("done", "failed")).exists()


def put_down_held(tank, folder):
    from apps.later.queue import put_down

    return put_down("held", arguments={"tank_pk": tank.pk, "folder": str(folder)})


@pytest.fixture(scope="class")
def at_work(data, server, django_db_setup):
    """Let one worker work for a whole class; return a function that counts its answers."""

    def answered():
        return len(ANSWERED.findall((data / "worker.log").read_text()))

    with worker(data, server):
        yield answered


class TestWithAWorkerAtWork:
    def test_the_doctor_sees_it(self, site, at_work):
        until(lambda: [one.state for one in checks.jobs()] == [State.OK], site)

    def test_a_job_delivered_twice_is_in_effect_once(self, site, at_work, tmp_path):
        from apps.later.celery_queue import send

        tank, before = make_tank(), at_work()
        (tmp_path / "go").touch()
        job = put_down_held(tank, tmp_path)
        send(job.pk)
        send(job.pk)
        # Putting it down sent it, too.
        until(lambda: ended() and at_work() >= before + 3, site)
        length = tank.length_cm
        tank.refresh_from_db()
        assert tank.length_cm == length + 1

    def test_a_saved_survey_is_fitted(self, site, at_work):
        make_survey(make_tank())
        until(lambda: Job.objects.exists() and ended(), site)
        jobs = Job.objects.filter(name="warm_light")
        assert jobs and {job.state for job in jobs} == {"done"}
        assert any((site / "kept").iterdir())

    def test_what_a_timer_runs_is_left_to_it(self, site, at_work):
        call_command("pool_outcomes")
        call_command("send_reminders", site="https://reef.example.org")
        until(lambda: Job.objects.count() == 2 and ended(), site)
        came = {job.name: (job.state, job.outcome) for job in Job.objects.all()}
        nothing = dict.fromkeys(("tanks", "changed", "curves", "curves_of_clubs"), 0)
        assert came == {
            "pool_outcomes": ("done", nothing),
            "send_reminders": ("done", {"reminded": 0, "refused": 0, "broken": 0}),
        }


def test_of_a_worker_killed_over_it_another_takes_it_up(site, server, tmp_path):
    tank = make_tank()
    job = put_down_held(tank, tmp_path)
    with worker(site, server) as first:
        until(lambda: list(tmp_path.glob("begun-*")), site)
        kill(first)
    job.refresh_from_db()
    assert job.state == "running"
    # As a minute later: whoever is silent for so long is taken for dead.
    Job.objects.update(alive_at=timezone.now() - 2 * LEASE)
    (tmp_path / "go").touch()
    with worker(site, server):
        until(ended, site)
    length = tank.length_cm
    tank.refresh_from_db()
    job.refresh_from_db()
    assert (tank.length_cm, job.tries, job.state) == (length + 1, 2, "done")


def test_without_a_broker_a_job_waits_until_a_worker_looks(site, server, tmp_path):
    tank = make_tank()
    (tmp_path / "go").touch()
    server.kill()
    try:
        put_down_held(tank, tmp_path)
        assert [one.state for one in checks.jobs()] == [State.MEND]
    finally:
        server.start()
    assert Job.objects.get(name="held").state == "waiting"
    Job.objects.update(due_at=timezone.now() - LEASE)
    with worker(site, server):
        until(ended, site)
    assert Job.objects.get(name="held").state == "done"


def test_a_broker_that_goes_while_workers_are_counted_holds_nobody_up(site, server, monkeypatch):
    from kombu.pidbox import Mailbox

    # Kombu's pool has a line by now, whose loss it would mend for ever.
    put_down_held(make_tank(), site)
    usual, stated = Mailbox.producer_or_acquire, queue.Queue()

    def then_gone(mailbox, *args):
        server.kill()
        return usual(mailbox, *args)

    monkeypatch.setattr(Mailbox, "producer_or_acquire", then_gone)
    ask = threading.Thread(
        target=lambda: stated.put([one.state for one in checks.jobs()]), daemon=True
    )
    try:
        ask.start()
        assert stated.get(timeout=20) == [State.MEND]
    finally:
        server.start()


def test_a_broker_that_stalls_holds_nobody_up_for_long(site, server, tmp_path):
    tank, begun = make_tank(), time.monotonic()
    # Its line is open already, which no time to connect bounds.
    put_down_held(tank, tmp_path)
    server.process.send_signal(signal.SIGSTOP)
    waker = threading.Timer(30, server.process.send_signal, (signal.SIGCONT,))
    waker.start()
    try:
        put_down_held(tank, tmp_path)
        assert time.monotonic() - begun < 20
    finally:
        waker.cancel()
        server.process.send_signal(signal.SIGCONT)
    assert Job.objects.filter(state="waiting").count() == 2


def test_what_is_late_is_sent_again_now_and_then(site, server):
    from apps.later.celery_queue import send_again

    job = make_job(due_at=timezone.now() - LEASE)
    assert (send_again(), send_again()) == (1, 0)
    # Its worker died over it: that is another try.
    job.state, job.tries, job.alive_at = "running", 1, timezone.now() - 2 * LEASE
    job.save()
    assert (send_again(), send_again()) == (1, 0)


def test_what_the_broker_did_not_take_is_sent_at_the_next_look(site, server):
    from apps.later.celery_queue import send_again

    make_job(due_at=timezone.now() - LEASE)
    server.kill()
    try:
        assert send_again() == 0
    finally:
        server.start()
    assert send_again() == 1


def test_the_doctor_asks_for_workers(site, server):
    assert [one.state for one in checks.jobs()] == [State.MEND]


def test_workers_without_a_broker_do_not_start(tmp_path):
    done = manage("shell", "-c", "import reeflog.celery", tmp_path=tmp_path, **SERVED)
    assert "REEFLOG_CELERY_BROKER" in done.stderr.splitlines()[-1]


def test_without_a_broker_celery_is_not_even_loaded(tmp_path):
    says = "import sys, apps.later.queue; print('celery' in sys.modules)"
    done = manage("shell", "-v0", "-c", says, tmp_path=tmp_path, **SERVED)
    assert done.stdout.strip() == "False"


@pytest.mark.django_db
def test_the_doctor_says_what_is_stuck_and_what_failed():
    assert [one.state for one in checks.jobs()] == [State.OK]
    job = make_job(state="failed")
    assert [one.state for one in checks.jobs()] == [State.LOOK]
    job.state, job.due_at = "waiting", timezone.now() - 11 * LEASE
    job.save()
    assert [one.state for one in checks.jobs()] == [State.MEND]
