"""Numbers for Prometheus, of all workers together.

Loaded by what needs it alone: the client decides when it is imported whether workers share a
folder (`reeflog/wsgi.py` names it).
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict
from functools import cache

from django.conf import settings
from django.utils import timezone
from prometheus_client import CollectorRegistry, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector

from apps.accounts.models import User
from apps.corals.models import Photo
from apps.later.state import jobs_state
from apps.tanks.models import Tank

# From a photo out of the folder to the search for a layout [s].
BUCKETS = (0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
_registry = CollectorRegistry()


@cache
def _requests() -> Histogram:
    return Histogram(
        "reeflog_request_seconds",
        "How long requests took.",
        ["method", "route", "status"],
        buckets=BUCKETS,
        registry=_registry,
    )


def count_request(method: str, route: str, status: int, took_s: float) -> None:
    # A method is whatever a visitor sends; routes are ours and so many.
    known = method if method in ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE") else "other"
    # A disk that takes nothing in must not break the page that was just made.
    with suppress(OSError):
        _requests().labels(known, route, f"{status // 100}xx").observe(took_s)


class SiteCollector:
    """What the site holds and has room for, asked when it is read."""

    def collect(self) -> Iterator[Metric]:
        free = shutil.disk_usage(settings.DATA_DIR).free
        yield GaugeMetricFamily("reeflog_disk_free_bytes", "Room in the data folder.", free)
        jobs = GaugeMetricFamily("reeflog_jobs", "Background jobs by state.", labels=["state"])
        for state, count in asdict(jobs_state(timezone.now())).items():
            jobs.add_metric([state], count)
        yield jobs
        for name, model in (("keepers", User), ("tanks", Tank), ("photos", Photo)):
            yield GaugeMetricFamily(f"reeflog_{name}", f"How many {name}.", model.objects.count())


def of_all_workers() -> CollectorRegistry:
    """Return the requests that this worker counted, or all that share its folder."""
    if folder := os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        requests = CollectorRegistry()
        MultiProcessCollector(requests, path=folder)  # type: ignore[no-untyped-call]
        return requests
    return _registry


def as_text() -> bytes:
    """Return all numbers in the text form of Prometheus."""
    site = CollectorRegistry()
    site.register(SiteCollector())
    return bytes(generate_latest(of_all_workers()) + generate_latest(site))
