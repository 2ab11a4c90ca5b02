"""No midnight falls into a test, nor between a test and what its module took for now.

A module that names `NOW` at its top, as it is imported, has each of its tests take place at that
moment; the clock runs on from there. Else a run that begins before midnight and ends after it
would find yesterday in `NOW` and today in `tank.today()`.
"""

import datetime as dt
import time
from contextlib import nullcontext

import pytest
import time_machine

# Longer than a test takes that asks the clock twice; once a day a run waits for so long.
LAST_S = 5


def wait_for_tomorrow():
    """In the last seconds of a day (UTC), wait until it is over."""
    now = dt.datetime.now(dt.UTC)
    midnight = dt.datetime.combine(now.date() + dt.timedelta(days=1), dt.time(), dt.UTC)
    left_s = (midnight - now).total_seconds()
    if left_s < LAST_S:
        time.sleep(left_s)


def taking_place(module):
    """Return a context in which it is as late as a module took it to be."""
    now = getattr(module, "NOW", None)
    return time_machine.travel(now, tick=True) if isinstance(now, dt.datetime) else nullcontext()


@pytest.hookimpl(tryfirst=True)
def pytest_pycollect_makemodule():
    """Before a module is imported."""
    wait_for_tomorrow()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    """Before the fixtures of a test are made."""
    wait_for_tomorrow()
    with taking_place(item.module):
        return (yield)
