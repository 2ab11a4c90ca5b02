"""What check readings changed, for the pages that show the light of a survey."""

from django import template

from apps.lightmap.check.check_readings import CheckOutcome, check_outcome
from apps.surveys.models import Survey

register = template.Library()


@register.simple_tag
def outcome_of_check(survey: Survey) -> CheckOutcome | None:
    """Return the CheckOutcome of the readings up to a survey's, None where none were a check."""
    return check_outcome(survey.tank, survey)
