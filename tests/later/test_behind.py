"""Jobs behind the pages of the app as it is served, by the thread of each of its workers."""

import datetime as dt
import threading
import time
from urllib.request import urlopen

import pytest
from django.utils import timezone

from apps.later import traffic
from apps.later.models import Job
from apps.later.running import LEASE
from apps.lightmap.warming import WARM
from tests.factories import make_job, make_survey, make_tank
from tests.serving import ServedApp

# How often the served process looks here, instead of every 20 s [s].
LOOK_S = 2.0


def states_within(seconds):
    """Return {name of a subject: state} once no job waits or runs, or when time is up."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if not Job.objects.filter(state__in=("waiting", "running")).exists():
            break
        time.sleep(0.1)
    return dict(Job.objects.values_list("subject", "state"))


@pytest.fixture
def served(transactional_db, tmp_path):
    """An app of its own, as it is by default: that of the other tests leaves jobs alone."""
    app = ServedApp(tmp_path, REEFLOG_JOBS="thread")
    yield app
    app.close()


def test_serving_processes_do_what_others_put_down_or_left(served):
    tank = make_tank()
    make_survey(tank)
    arguments = {"tank_pk": tank.pk}
    make_job(name=WARM, subject="put down", arguments=arguments)
    silent = timezone.now() - LEASE - dt.timedelta(seconds=1)
    left = {"state": "running", "tries": 1, "alive_at": silent}
    make_job(name=WARM, subject="left", arguments=arguments, **left)
    assert states_within(60) == {"put down": "done", "left": "done"}


def test_maps_are_made_ahead_only_once_pages_have_come_to_rest(transactional_db, tmp_path):
    app = ServedApp(tmp_path, workers=1, REEFLOG_JOBS="thread", TESTS_LOOK_S=str(LOOK_S))
    over = threading.Event()

    def ask():
        while not over.is_set():
            urlopen(app.url, timeout=60).close()

    keepers = [threading.Thread(target=ask) for _ in range(2)]
    try:
        for keeper in keepers:
            keeper.start()
        # Until pages were under way for more of the last seconds than counts as quiet.
        time.sleep(traffic.FADE_S)
        make_job(name=WARM, subject="tank 1", arguments={"tank_pk": 1})
        time.sleep(2 * LOOK_S)
        assert states_within(0) == {"tank 1": "waiting"}
        over.set()
        assert states_within(60) == {"tank 1": "done"}
    finally:
        over.set()
        for keeper in keepers:
            keeper.join()
        app.close()
