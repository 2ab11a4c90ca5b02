"""What of surveys can be deleted and restored."""

from django.urls import reverse

from apps.surveys.models import Survey
from apps.tanks.removable_kinds import RemovableKind


def survey_question(survey: Survey) -> tuple[str, dict[str, object]]:
    """Return the page that asks before a survey goes, with what goes along."""
    context = {
        "tank": survey.tank,
        "survey": survey,
        "contents": SURVEY.counted(SURVEY.rows().filter(pk=survey.pk))[1:],
        "is_last": not survey.tank.surveys.present().exclude(pk=survey.pk).exists(),
    }
    return "surveys/survey/survey_remove.html", context


SURVEY = RemovableKind(
    key="survey",
    model=Survey,
    noun="survey",
    plural="surveys",
    tank="tank",
    words=lambda survey: f"survey of {survey.day():%-d %b %Y}",
    page=lambda survey: reverse("survey_list", args=[survey.tank_id]),
    parts=(
        ("readings", "reading", "readings"),
        ("planned_points", "planned point", "planned points"),
    ),
    at="surveys/<int:survey_pk>/",
    name="survey",
    called=lambda survey: f"the survey of {survey.day():%-d %b %Y}",
    question=survey_question,
)
KINDS = (SURVEY,)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
