"""The example of a logger in docs/examples does what it says, against a server over the network."""

import os
import subprocess
import sys

import pytest
from knox.models import AuthToken

from apps.surveys.models import Survey
from tests.factories import make_tank, make_user
from tests.paths import ROOT

SENSOR = "PAR meter 1\n101.0 umol\n99,0 umol\n\n100.0 umol\n"


@pytest.fixture
def logged(live_server):
    """Return a function that runs the example as a program of a keeper's."""
    tank = make_tank(make_user())
    token = AuthToken.objects.create(tank.owner)[1]

    def run(lines=SENSOR, token=token):
        script = ROOT / "docs" / "examples" / "log_par.py"
        command = [sys.executable, script, live_server.url, str(tank.pk), "40", "25", "20"]
        environment = os.environ | {"REEFLOG_TOKEN": token}
        return subprocess.run(command, input=lines, text=True, capture_output=True, env=environment)

    run.tank = tank
    return run


def test_a_sensors_lines_become_one_reading(logged):
    assert logged().returncode == 0
    reading = Survey.objects.get(tank=logged.tank).readings.get()
    assert (reading.x_cm, reading.y_cm, reading.depth_cm) == (40, 25, 20)
    assert (reading.value_umol, reading.spread_umol) == (100, 1)


def test_a_refused_logger_fails_and_stores_nothing(logged):
    assert logged(token="wrong").returncode != 0
    assert not Survey.objects.exists()
