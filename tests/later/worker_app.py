"""Celery's app as workers load it, with jobs that a test can hold up."""

import os
import time
from pathlib import Path

from reeflog.celery import app

# isort: split
# Django is set up only now.
from django.db import transaction
from django.db.models import F

from apps.later.kinds import KINDS, JobKind
from apps.tanks.models import Tank

__all__ = ["app"]


def held(work, *, tank_pk, folder):
    """Say who works on it, wait until the folder lets go, then make a tank a cm longer."""
    Path(folder, f"begun-{os.getpid()}").touch()
    while not Path(folder, "go").exists():
        time.sleep(0.02)
    with transaction.atomic():
        Tank.objects.filter(pk=tank_pk).update(length_cm=F("length_cm") + 1)
        work.settle({"tank_pk": tank_pk})


KINDS["held"] = JobKind("held", held)
