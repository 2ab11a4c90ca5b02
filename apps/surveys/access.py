"""A survey of a tank the user may see or change: the first line of every view on one survey."""

from django.shortcuts import get_object_or_404

from apps.accounts.models import User
from apps.surveys.models import Survey
from apps.tanks.access import require_write


def readable_survey(user: User, pk: int) -> Survey:
    """Return the survey, or raise Http404 for a stranger."""
    surveys = Survey.objects.visible_to(user).select_related("tank", "meter", "created_by")
    return get_object_or_404(surveys, pk=pk)


def writable_survey(user: User, pk: int) -> Survey:
    """Return the survey, or raise Http404 for a stranger and PermissionDenied for a viewer."""
    survey = readable_survey(user, pk)
    require_write(user, survey.tank)
    return survey
