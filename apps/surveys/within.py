"""What surveys tell the apps below: when they were taken, and which readings lie beyond a side."""

import datetime as dt

from django.db.models import Q

from apps.surveys.models import Reading, Survey
from apps.tanks.models import Tank


def survey_moments_of(tank: Tank) -> list[dt.datetime]:
    """Return when each present survey of a tank was taken."""
    return list(Survey.objects.present().filter(tank=tank).values_list("taken_at", flat=True))


def readings_beyond(tank: Tank, axis: str, far_cm: float) -> list[tuple[int, str]]:
    """Return how many readings lie beyond a place along an axis [cm], and their noun."""
    surveys = Survey.objects.present().filter(tank=tank)
    return [(surveys.filter(Q(**{f"readings__{axis}__gt": far_cm})).count(), "reading")]


def reading_places(tank: Tank) -> list[tuple[str, list[tuple[float, float]]]]:
    """Return the noun of readings and where they were taken, (x, y) each [cm]."""
    surveys = Survey.objects.present().filter(tank=tank)
    rows = Reading.objects.filter(survey__in=surveys)
    return [("reading", list(rows.values_list("x_cm", "y_cm")))]
