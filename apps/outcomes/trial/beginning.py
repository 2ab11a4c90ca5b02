"""Beginning a trial: the row, its corals, and the lot, at once."""

from django.db import transaction

from apps.outcomes.models import TrialCoral, draw_place


@transaction.atomic
def begin_trial(*, trial, corals):
    """Save a sound Trial and draw a day for each of its corals; the lot is never drawn again."""
    trial.save()
    for coral in corals:
        row = TrialCoral(trial=trial, coral=coral, drawn=draw_place())
        row.full_clean()
        row.save()
    return trial
