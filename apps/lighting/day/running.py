"""Starting day curves: the light change they begin with."""

from collections import defaultdict
from itertools import combinations

from django.core.exceptions import ValidationError
from django.db import transaction

from apps.lighting.day_models import RunningCurve
from apps.lighting.day_run import running_of
from apps.lighting.models import HOURS_BESIDE_A_CURVE, LightChange

COPIED = ("name", "zone", "group", "share_percent", "is_moonlight", "points")


@transaction.atomic
def start_day_curve(*, curve, happened_at, created_by):
    """Save and return the LightChange from which a DayCurve runs in its zone and group.

    Which other curves run on beside it, the history says: `Running.must_stop_for`.
    """
    change = LightChange(
        tank=curve.tank,
        happened_at=happened_at,
        reason=LightChange.Reason.HOURS,
        summary=start_words([curve]),
        created_by=created_by,
    )
    change.full_clean()
    rows = curves_to_start(change, [curve])
    change.save()
    save_started(change, rows)
    return change


def start_words(curves):
    """Return what an entry that starts DayCurves is called where its keeper does not say."""
    names = ", ".join(f"“{curve.name}”" for curve in curves)
    return f"Day curve {names}"[: LightChange._meta.get_field("summary").max_length]


def curves_to_start(change, curves):
    """Return the unsaved RunningCurves, copies of DayCurves, that a LightChange starts.

    Those it started already, as they are now, are not among them. Raises ValidationError.
    """
    running = list(change.days.all()) if change.pk else []
    copied = [(row.source_id, facts_of(row)) for row in running]
    fresh = [
        RunningCurve(source=curve, **facts_of(curve))
        for curve in curves
        if (curve.pk, facts_of(curve)) not in copied
    ]
    if fresh and change.day_hours is not None:
        raise ValidationError({"day_hours": HOURS_BESIDE_A_CURVE})
    named = [(row.name, running_of(row, change.happened_at)) for row in (*running, *fresh)]
    for (one, first), (other, second) in combinations(named, 2):
        if first.must_stop_for(second):
            raise ValidationError(
                f"“{one}” and “{other}” are for the same channels: start one of them."
            )
    for row in fresh:
        row.full_clean(exclude={"change"})
    return fresh


def facts_of(row):
    return {name: getattr(row, name) for name in COPIED}


def save_started(change, rows):
    """Save the RunningCurves that `curves_to_start` gave for a LightChange, saved by now."""
    for row in rows:
        row.change = change
        row.save()


def spans_run(history, now):
    """Return {DayCurve pk: [(since, until)]} in order; `until` is None for one that still runs.

    A curve that another change of light leaves running goes on in the same span.
    """
    spans = defaultdict(list)
    running = {}
    changes = [change for change in history.changes if change.happened_at <= now]
    for change in changes:
        after = {run.source_pk: run.since for run in change.days if run.source_pk}
        for pk in running.keys() - after.keys():
            spans[pk].append((running.pop(pk), change.happened_at))
        for pk, since in after.items():
            running.setdefault(pk, since)
    for pk, since in running.items():
        spans[pk].append((since, None))
    return spans
