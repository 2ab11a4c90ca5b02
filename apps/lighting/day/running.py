"""Starting day curves: the light change they begin with."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from itertools import combinations

from django.core.exceptions import ValidationError
from django.db import transaction

from apps.accounts.models import User
from apps.lighting.day_models import DayCurve, DayFields, RunningCurve
from apps.lighting.day_run import running_of
from apps.lighting.history import LightHistory
from apps.lighting.models import HOURS_BESIDE_A_CURVE, LightChange

# When a curve ran: its first moment, and its last or None.
Span = tuple[dt.datetime, dt.datetime | None]

COPIED = ("name", "zone", "group", "share_percent", "is_moonlight", "points")


@transaction.atomic
def start_day_curve(*, curve: DayCurve, happened_at: dt.datetime, created_by: User) -> LightChange:
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


def start_words(curves: Iterable[DayCurve]) -> str:
    """Return what an entry that starts DayCurves is called where its keeper does not say."""
    names = ", ".join(f"“{curve.name}”" for curve in curves)
    whole: str = f"Day schedule {names}"
    return whole[: LightChange._meta.get_field("summary").max_length]


def curves_to_start(change: LightChange, curves: Iterable[DayCurve]) -> list[RunningCurve]:
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


def facts_of(row: DayFields) -> dict[str, object]:
    return {name: getattr(row, name) for name in COPIED}


def save_started(change: LightChange, rows: Iterable[RunningCurve]) -> None:
    """Save the RunningCurves that `curves_to_start` gave for a LightChange, saved by now."""
    for row in rows:
        row.change = change
        row.save()


def spans_run(history: LightHistory, now: dt.datetime) -> dict[int, list[Span]]:
    """Return {DayCurve pk: [(since, until)]} in order; `until` is None for one that still runs.

    A curve that another change of light leaves running goes on in the same span.
    """
    spans: dict[int, list[Span]] = defaultdict(list)
    running: dict[int, dt.datetime] = {}
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
