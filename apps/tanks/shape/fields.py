"""Form fields of a tank's shape."""

from django import forms
from django.core.exceptions import ValidationError

from apps.common.units import NumberField


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
