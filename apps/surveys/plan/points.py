"""Writing the points of a survey's plan: added behind those there, or in place of unread ones."""

from collections.abc import Iterable, Mapping, Sequence

from django.db import transaction

from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.models import PlannedPoint, Survey
from apps.surveys.plan.forms import PlanForm
from apps.surveys.plan.patterns import Place
from apps.surveys.recording import lock_survey
from apps.tanks.models import Tank


def given_places(params: Mapping[str, str], tank: Tank) -> list[Place]:
    """Return the one Place that an address names by x_cm, y_cm and depth_cm; none if not in it."""
    try:
        x_cm, y_cm, depth_cm = (float(params[key]) for key in ("x_cm", "y_cm", "depth_cm"))
    except (KeyError, ValueError):
        return []
    inside = (
        0 <= x_cm <= tank.length_cm
        and 0 <= y_cm <= tank.width_cm
        and 0 <= depth_cm <= tank.depth_cm
    )
    return [Place(x_cm, y_cm, depth_cm)] if inside else []


class TooManyPoints(ValueError):
    """A survey holds no more points than it may hold readings."""


@transaction.atomic
def add_points(*, survey: Survey, places: Iterable[Place], replace: bool = False) -> int:
    """Add Places to the survey's plan and return how many are new.

    A place that is planned already is left out. With `replace`, planned points without a
    reading go first; those with one keep their number. Raises TooManyPoints.
    """
    held = lock_survey(survey)
    points = held.planned_points
    if replace:
        read = held.readings.values_list("client_id", flat=True)
        points.exclude(client_id__in=list(read)).delete()
    there = {(p.x_cm, p.y_cm, p.depth_cm) for p in points.all()}
    fresh = []
    for place in places:
        at = (place.x_cm, place.y_cm, place.depth_cm)
        if at not in there:
            there.add(at)
            fresh.append(place)
    if points.count() + len(fresh) > SURVEY_READINGS_MAX:
        raise TooManyPoints(f"A survey has {SURVEY_READINGS_MAX:,} points at most.")
    last = max((p.number for p in points.all()), default=0)
    PlannedPoint.objects.bulk_create(
        PlannedPoint(
            survey=held,
            number=last + i,
            x_cm=place.x_cm,
            y_cm=place.y_cm,
            depth_cm=place.depth_cm,
            words=place.words,
        )
        for i, place in enumerate(fresh, start=1)
    )
    return len(fresh)


@transaction.atomic
def plan_as_wished(*, survey: Survey, form: PlanForm, places: Sequence[Place]) -> int:
    """Plan the Places of a valid form and remember what was wished; return how many are new.

    Raises TooManyPoints.
    """
    replace = form.cleaned_data["how"] == PlanForm.REPLACE
    count = add_points(survey=survey, places=places, replace=replace)
    survey.plan_asked = form.wishes()
    survey.save(update_fields=["plan_asked"])
    return count


def points_with_values(survey: Survey) -> list[PlannedPoint]:
    """Return the planned points in order, each with `reading` set to its Reading or None."""
    readings = {reading.client_id: reading for reading in survey.readings.all()}
    points = list(survey.planned_points.all())
    for point in points:
        point.reading = readings.get(point.client_id)
    return points
