"""Notes of corals that paled, so many days ago."""

import datetime as dt

from django.utils import timezone

from apps.corals.models import HealthNote
from tests.factories import make_note

SEEN = HealthNote.Seen


def days_ago(n):
    return timezone.now() - dt.timedelta(days=n)


def date_ago(tank, n):
    return tank.today() - dt.timedelta(days=n)


def pale(coral, ago=20, **fields):
    return make_note(coral, noted_on=date_ago(coral.tank, ago), **fields)
