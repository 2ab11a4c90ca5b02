"""Moments: stored in UTC, typed and shown by the clock at the tank."""

import datetime as dt
from collections.abc import Mapping

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.html import format_html, format_html_join

LOCAL_FORMAT = "%Y-%m-%dT%H:%M"
# Parts what the clock shows from its minutes ahead of UTC, where the hour comes twice.
CLOCK_MARK = "@"
# Marks what was typed without an offset, until the tank's zone takes its place.
_TYPED = dt.timezone(dt.timedelta(0), "as typed")


def moment_text(moment: dt.datetime, zone: dt.tzinfo) -> str:
    """Return a moment as a form's text: "2026-11-01T01:30@-240" in an hour that comes twice."""
    local = moment.astimezone(zone)
    shown = local.strftime(LOCAL_FORMAT)
    return f"{shown}{CLOCK_MARK}{ahead_minutes(local)}" if comes_twice(local) else shown


def day_text(day: dt.date) -> str:
    """Return a date, or a moment's date by its own clock, as every page shows it: 3 Mar 2026."""
    return f"{day.day} {day:%b %Y}"


def comes_twice(local: dt.datetime) -> bool:
    """Whether a clock that is set back shows this local time a second time."""
    first, second = (local.replace(fold=fold) for fold in (0, 1))
    return ahead_minutes(first) > ahead_minutes(second)


def ahead_minutes(local: dt.datetime) -> int:
    """Return how far a local clock is ahead of UTC [min]."""
    return round((local.utcoffset() or dt.timedelta()).total_seconds() / 60)


def clock_choices(shown: str, zone: dt.tzinfo) -> list[tuple[str, str]]:
    """Return (minutes ahead of UTC, name) of each clock that shows a doubled time; else []."""
    try:
        local = dt.datetime.fromisoformat(shown)
    except ValueError:
        return []
    if local.tzinfo is not None or not comes_twice(local := local.replace(tzinfo=zone)):
        return []
    twice = [(local.replace(fold=fold), which) for fold, which in ((0, "first"), (1, "second"))]
    return [(str(ahead_minutes(at)), f"{clock_name(at)}, the {which} time") for at, which in twice]


def clock_name(local: dt.datetime) -> str:
    """Return what a clock's setting is called: EDT, or UTC+10:30 where it has only a number."""
    name = local.tzname() or ""
    return name if name.isalpha() else f"UTC{local.isoformat()[-6:]}"


class LocalDateTimeInput(forms.DateTimeInput):
    """A date and time; beside it which of the two is meant, where the hour comes twice."""

    input_type = "datetime-local"

    def __init__(
        self, *, zone: dt.tzinfo | None = None, attrs: dict[str, object] | None = None
    ) -> None:
        self.zone = zone
        super().__init__(attrs=attrs, format=LOCAL_FORMAT)

    def value_from_datadict(
        self, data: Mapping[str, str], files: Mapping[str, object], name: str
    ) -> str | None:
        shown, clock = data.get(name), data.get(f"{name}_clock")
        if shown and clock and CLOCK_MARK not in shown:
            return f"{shown}{CLOCK_MARK}{clock}"
        return shown

    def render(
        self,
        name: str,
        value: object,
        attrs: dict[str, object] | None = None,
        renderer: object = None,
    ) -> str:
        text = self.format_value(value) or ""
        shown, _, clock = text.partition(CLOCK_MARK)
        whole = super().render(name, shown, attrs, renderer)
        choices = clock_choices(shown, self.zone or timezone.get_current_timezone())
        if not choices:
            return whole
        options = format_html_join(
            "",
            '<option value="{}"{}>{}</option>',
            [(key, " selected" if key == clock else "", label) for key, label in choices],
        )
        return format_html(
            '{}<select name="{}_clock" aria-label="Which of the two hours" '
            'class="clock-twice">{}</select>',
            whole,
            name,
            options,
        )


class LocalDateTimeField(forms.DateTimeField):
    """A date and time as the clock at the tank shows it; without `zone` the one in force.

    In the hour that comes twice when clocks go back it asks which of the two is meant. A form
    that shows a stored moment and gets it back unchanged keeps it to the second (WholeModelForm).
    """

    def __init__(self, *, zone: dt.tzinfo | None = None, **kwargs: object) -> None:
        self.zone = zone
        super().__init__(**{"widget": LocalDateTimeInput(zone=zone)} | kwargs)

    def zone_now(self) -> dt.tzinfo:
        return self.zone or timezone.get_current_timezone()

    def prepare_value(self, value: object) -> object:
        if isinstance(value, dt.datetime) and timezone.is_aware(value):
            return moment_text(value, self.zone_now())
        return super().prepare_value(value)

    def to_python(self, value: object) -> dt.datetime | None:
        clock = ""
        if isinstance(value, str):
            value, _, clock = value.partition(CLOCK_MARK)
        zone = self.zone_now()
        with timezone.override(_TYPED):
            typed = super().to_python(value)
        if typed is None or typed.tzinfo is not _TYPED:
            return typed
        local = typed.replace(tzinfo=zone)
        try:
            there = local.astimezone(dt.UTC).astimezone(zone)
        except OverflowError:
            # At either end of the calendar; the model has a sentence for such years.
            return local
        if there.replace(tzinfo=None) != local.replace(tzinfo=None):
            raise ValidationError(
                f"The clocks went forward then: the tank had no such time as {local:%H:%M}."
            )
        return the_one_meant(local, clock) if comes_twice(local) else local


def the_one_meant(local: dt.datetime, clock: str) -> dt.datetime:
    """Return a doubled local time as the clock shows it that was chosen beside it."""
    twice = [local.replace(fold=fold) for fold in (0, 1)]
    for moment in twice:
        if clock == str(ahead_minutes(moment)):
            return moment
    first, second = map(clock_name, twice)
    raise ValidationError(
        f"The clocks went back then, so {local:%H:%M} came twice. "
        f"Choose {first} (first) or {second} (second)."
    )
