"""Surveys, where their tank gets another time zone."""

from apps.surveys.models import Survey
from apps.tanks.models import Tank
from apps.tanks.rezoning import ClockRows


def survey_moments(tank: Tank) -> list[ClockRows]:
    """Return a tank's surveys by the moment they were taken, deleted ones too."""
    return [ClockRows(Survey.objects.filter(tank=tank), "taken_at")]
