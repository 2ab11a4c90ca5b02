"""What surveys tell the apps below: when they were taken, and which readings lie beyond a side."""

import datetime as dt

from django.db.models import Q

from apps.surveys.models import Survey
from apps.tanks.models import Tank


def survey_moments_of(tank: Tank) -> list[dt.datetime]:
    """Return when each present survey of a tank was taken."""
    return list(Survey.objects.present().filter(tank=tank).values_list("taken_at", flat=True))


def readings_beyond(tank: Tank, axis: str, far_cm: float) -> list[tuple[int, str]]:
    """Return how many readings lie beyond a place along an axis [cm], and their noun."""
    surveys = Survey.objects.present().filter(tank=tank)
    return [(surveys.filter(Q(**{f"readings__{axis}__gt": far_cm})).count(), "reading")]
