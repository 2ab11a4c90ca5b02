"""What of trials can be deleted and restored."""

from django.urls import reverse

from apps.outcomes.models import Trial
from apps.tanks.removable_kinds import RemovableKind

TRIAL = RemovableKind(
    key="trial",
    model=Trial,
    noun="trial",
    plural="trials",
    tank="tank",
    words=lambda trial: f"{trial.get_question_display()} From {trial.began_on:%-d %b %Y}",
    page=lambda trial: reverse("trial_detail", args=[trial.pk]),
    at="trials/<int:pk>/",
    name="trial",
    called=lambda trial: f"the trial from {trial.began_on:%-d %b %Y}",
    left=lambda trial: reverse("trial_list", args=[trial.tank_id]),
)
KINDS = (TRIAL,)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
