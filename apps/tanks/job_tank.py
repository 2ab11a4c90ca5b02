"""The tank that a job is about, by the key among its arguments."""

from collections.abc import Iterable

from apps.later.models import Job
from apps.tanks.models import Tank


def tank_of_job(job: Job) -> Iterable[Tank]:
    """Return the tank of a job, nothing where it is of none or its keeper no longer sees it."""
    pk = job.arguments.get("tank_pk")
    if pk is None or job.keeper is None:
        return ()
    return Tank.objects.visible_to(job.keeper).filter(pk=pk)
