"""Beginning a trial: the row, its corals, and the lot, at once."""

from collections.abc import Iterable

from django.db import transaction

from apps.corals.models import Coral
from apps.outcomes.models import Trial, TrialCoral, draw_place


@transaction.atomic  # type: ignore[untyped-decorator]  # Django brings no types
def begin_trial(*, trial: Trial, corals: Iterable[Coral]) -> Trial:
    """Save a sound Trial and draw a day for each of its corals; the lot is never drawn again."""
    trial.save()
    for coral in corals:
        row = TrialCoral(trial=trial, coral=coral, drawn=draw_place())
        row.full_clean()
        row.save()
    return trial
