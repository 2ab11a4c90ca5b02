"""Form fields of a tank's shape."""

from django import forms
from django.core.exceptions import ValidationError

from apps.common.units import LengthField, NumberField
from apps.photics import limits
from apps.tanks.shape.lines import corners_text, read_corners


class LinesField(forms.CharField):
    """Rows of lengths, one a line, in the keeper's unit; cleans to what is stored of them."""

    widget = forms.Textarea(attrs={"rows": 5, "spellcheck": "false"})

    def __init__(self, *, unit, read, written, **kwargs):
        self.unit, self.read, self.written = unit, read, written
        super().__init__(required=False, **kwargs)

    def prepare_value(self, value):
        return self.written(value, self.unit) if isinstance(value, list) else value

    def clean(self, value):
        return self.read(super().clean(value), self.unit)

    def has_changed(self, initial, data):
        try:
            return self.read(data or "", self.unit) != (initial or [])
        except ValidationError:
            return True


class PercentField(NumberField):
    """A percentage that is stored as a proportion; empty is all of it."""

    def prepare_value(self, value):
        return f"{100 * value:g}" if isinstance(value, int | float) else value

    def clean(self, value):
        percent = super().clean(value)
        return 1.0 if percent is None else percent / 100.0


def bow_field(unit):
    """Return the field of a bow front."""
    return LengthField(
        unit=unit,
        label="Bow front: how far the middle bulges",
        low_cm=0,
        high_cm=limits.TANK_SIDE_MAX_CM,
        required=False,
    )


def corners_field(unit):
    """Return the field of an outline's corners."""
    return LinesField(
        unit=unit,
        read=read_corners,
        written=corners_text,
        label="By its corners: where they are",
        help_text="One corner a line, in order round the tank: from the left, from the front, "
        "such as 0 60. A curve is a few corners more.",
    )


def cover_field():
    """Return the field of what a lid or screen passes."""
    return PercentField(
        words=("%",),
        label="Light a lid or screen lets through",
        low=100 * limits.COVER_TRANSMISSION_MIN,
        high=100,
        required=False,
    )
