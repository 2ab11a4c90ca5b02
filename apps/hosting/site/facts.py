"""What a host should know of the site now, and what of it needs them."""

import datetime as dt
import shutil
from collections.abc import Iterator
from dataclasses import dataclass

from django.conf import settings
from django.db.models import Count
from django.db.models.functions import TruncWeek
from django.template.defaultfilters import pluralize

from apps.accounts.models import User
from apps.corals.models import Photo
from apps.hosting.backup.last import LastBackup, last_backup
from apps.hosting.doctor.before_upgrade import database_bytes
from apps.hosting.doctor.checks import BACKUP_AGE_MAX, DISK_GB_LOOK, GB
from apps.hosting.models import DataRequest
from apps.hosting.site.routes import Route, routes
from apps.hosting.watching.readiness import readiness
from apps.later.state import JobsState, jobs_state
from apps.tanks.models import Tank

WEEKS, ROUTES_MAX = 8, 10


@dataclass(frozen=True)
class SiteFacts:
    """The site at one moment; `sign_ups` are (Monday, how many), the newest week first."""

    version: str
    needs: list[str]
    disk_free_gb: float
    database_mb: float
    keepers: int
    tanks: int
    photos: int
    leaving: int
    sign_ups: list[tuple[dt.datetime, int]]
    backup: LastBackup | None
    jobs: JobsState
    # Those of keepers about their data that nobody answered.
    requests: list[DataRequest]
    # None where the workers do not count.
    routes: list[Route] | None


def site_facts(now: dt.datetime) -> SiteFacts:
    """Ask the database, the disk and the counts of all workers."""
    counted = routes() if settings.METRICS_TOKEN else None
    free_gb = shutil.disk_usage(settings.DATA_DIR).free / GB
    backup, jobs = last_backup(), jobs_state(now)
    requests = list(DataRequest.objects.waiting().select_related("keeper"))
    return SiteFacts(
        version=settings.VERSION,
        needs=list(_needs(free_gb, backup, jobs, requests, counted or [], now)),
        disk_free_gb=free_gb,
        database_mb=database_bytes() / 1e6,
        keepers=User.objects.count(),
        tanks=Tank.objects.count(),
        photos=Photo.objects.count(),
        leaving=User.objects.filter(leaves_at__isnull=False).count(),
        sign_ups=_sign_ups(now),
        backup=backup,
        jobs=jobs,
        requests=requests,
        routes=None if counted is None else _worst(counted),
    )


def _needs(
    free_gb: float,
    backup: LastBackup | None,
    jobs: JobsState,
    requests: list[DataRequest],
    counted: list[Route],
    now: dt.datetime,
) -> Iterator[str]:
    if free_gb < DISK_GB_LOOK:
        yield f"only {free_gb:.1f} GB are free on the disk"
    if backup is None:
        yield "no backup was made yet"
    elif now - backup.made_at > BACKUP_AGE_MAX:
        yield f"the last backup is {(now - backup.made_at).days} days old"
    if not readiness.read()["migrations"]:
        yield "migrations are pending"
    if jobs.stuck:
        jobs_have = "1 job has" if jobs.stuck == 1 else f"{jobs.stuck} jobs have"
        yield f"{jobs_have} waited over ten minutes"
    if requests:
        yield _waiting_words(len(requests), (now - requests[0].made_at).days)
    if failed := sum(route.failed for route in counted):
        yield f"{failed} requests broke since the start: see the log"


def _waiting_words(count: int, days: int) -> str:
    since = "since today" if days == 0 else f"for {days} day{pluralize(days)}"
    if count == 1:
        return f"1 data request is waiting, {since}"
    return f"{count} data requests are waiting, the oldest {since}"


def _sign_ups(now: dt.datetime) -> list[tuple[dt.datetime, int]]:
    recent = User.objects.filter(date_joined__gte=now - dt.timedelta(weeks=WEEKS))
    weeks = recent.annotate(week=TruncWeek("date_joined")).values_list("week")
    return list(weeks.annotate(count=Count("pk")).order_by("-week"))


def _worst(counted: list[Route]) -> list[Route]:
    """Return the addresses that broke, were slow or refused most, and never one without a flaw."""
    flawed = [route for route in counted if route.failed or route.slow or route.refused]
    return sorted(flawed, key=lambda r: (-r.failed, -r.slow, -r.refused, r.route))[:ROUTES_MAX]
