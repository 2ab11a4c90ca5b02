"""Jobs behind the pages of the app as it is served, by the thread of each of its workers."""

import datetime as dt
import time

from django.utils import timezone

from apps.later.models import Job
from apps.later.running import LEASE
from apps.lightmap.warming import WARM
from tests.factories import make_job, make_survey, make_tank


def states_within(seconds):
    """Return {name of a subject: state} once no job waits or runs, or when time is up."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if not Job.objects.filter(state__in=("waiting", "running")).exists():
            break
        time.sleep(0.1)
    return dict(Job.objects.values_list("subject", "state"))


def test_serving_processes_do_what_others_put_down_or_left(transactional_db, served_app):
    tank = make_tank()
    make_survey(tank)
    arguments = {"tank_pk": tank.pk}
    make_job(name=WARM, subject="put down", arguments=arguments)
    silent = timezone.now() - LEASE - dt.timedelta(seconds=1)
    left = {"state": "running", "tries": 1, "alive_at": silent}
    make_job(name=WARM, subject="left", arguments=arguments, **left)
    assert states_within(60) == {"put down": "done", "left": "done"}
