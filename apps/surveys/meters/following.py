"""Surveys that follow the checks of their meter: each takes the factor of its own day."""

from collections.abc import Callable, Iterable

from django.db import transaction

from apps.common.serving.row_locks import hold_row
from apps.surveys.meters.scales import scale_by_check
from apps.surveys.models import Meter, MeterCheck, Survey


@transaction.atomic
def follow(*, meter: Meter, change: Callable[[], object]) -> int:
    """Make a change of a meter or its checks, and let surveys follow; return how many changed.

    A survey whose factor was another than its meter's before keeps it: somebody chose it. So does
    every survey of a meter that follows no checks.
    """
    hold_row(Meter._base_manager, meter.pk)
    surveys = Survey.objects.filter(meter=meter).select_related("tank")
    following = [row for row in with_meter(surveys, meter.pk) if not row.factor_is_stale()]
    change()
    now = Meter._base_manager.get(pk=meter.pk)
    give_factors(now)
    if not now.follows_checks:
        return 0
    changed = [row for row in with_meter(following, meter.pk) if row.factor_is_stale()]
    for survey in changed:
        survey.take_meter_factor()
        survey.save(update_fields=["correction_factor"])
    return len(changed)


def with_meter(surveys: Iterable[Survey], pk: int) -> list[Survey]:
    """Return surveys with their meter as the database has it now, read once for all."""
    meter, rows = Meter._base_manager.get(pk=pk), list(surveys)
    for survey in rows:
        survey.meter = meter
    return rows


def give_factors(meter: Meter) -> None:
    """Work out what each check of a meter gives from its day on; nothing where it follows none."""
    for check in meter.checks.select_related("other"):
        check.meter = meter
        factor = scale_by_check(check)[0] if meter.follows_checks else None
        if factor != check.factor:
            check.factor = factor
            check.save(update_fields=["factor"])


def keep_check(check: MeterCheck) -> int:
    """Save a valid check; return how many surveys follow it."""

    def change() -> None:
        check.save()
        note_checked(check)

    return follow(meter=check.meter, change=change)


def note_checked(check: MeterCheck) -> None:
    """Let the meter know the day of its newest check."""
    meter = check.meter
    if meter.checked_on is None or meter.checked_on < check.checked_on:
        meter.checked_on = check.checked_on
        meter.save(update_fields=["checked_on"])
