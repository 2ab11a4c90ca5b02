"""Moments: stored in UTC, typed and shown by the clock at the tank."""

import datetime as dt

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

LOCAL_FORMAT = "%Y-%m-%dT%H:%M"
# Marks what was typed without an offset, until the tank's zone takes its place.
_TYPED = dt.timezone(dt.timedelta(0), "as typed")


class LocalDateTimeField(forms.DateTimeField):
    """A date and time as the clock at the tank shows it; without `zone` the one in force.

    The hour that comes twice when clocks go back means the earlier one. A form that shows a
    stored moment and gets it back unchanged keeps it to the second (WholeModelForm).
    """

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format=LOCAL_FORMAT)

    def __init__(self, *, zone=None, **kwargs):
        self.zone = zone
        super().__init__(**kwargs)

    def zone_now(self):
        return self.zone or timezone.get_current_timezone()

    def prepare_value(self, value):
        with timezone.override(self.zone_now()):
            return super().prepare_value(value)

    def to_python(self, value):
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
            raise ValidationError("The clocks went forward then: the tank had no such time.")
        return local
