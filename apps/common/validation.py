"""The contract of a model, for every way in: its bounds, its days, and texts that can be seen.

Forms (`model_forms.py`) and API (`programs/serializers.py`) both end in the model's full_clean().
"""

import datetime as dt
from collections.abc import Collection, Container
from functools import cache
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.core.validators import BaseValidator, MaxValueValidator, MinValueValidator
from django.db.models import CharField, CheckConstraint, Field, JSONField, Model, Q, TextField
from django.db.models.options import Options
from django.forms import BaseForm

from apps.common.texts import hidden_character, is_visible, texts_within
from apps.photics import limits

# A mixin reads what the class beside it has; when the app runs it stands on its own.
if TYPE_CHECKING:
    from django.db.models import Model as BesideModel
else:
    BesideModel = object

# What is said of a field that has to be filled in, on pages and to programs.
FILL_IN = "Please fill this in."
TEXT_FIELDS = (CharField, TextField, JSONField)


def first_fault(form: BaseForm) -> str:
    """Return what is wrong with the first value given in a form; empty where some only lack."""
    for name, errors in form.errors.as_data().items():
        label = f"{form.fields[name].label}: " if name in form.fields else ""
        for error in errors:
            if error.code != "required":
                return f"{label}{error.messages[0]}"
    return ""


def bounds(low: float, high: float) -> list[BaseValidator]:
    """Return the two field validators for low <= value <= high."""
    return [MinValueValidator(low), MaxValueValidator(high)]


def bounds_check(
    model: str, field: str, low: float, high: float, *, null: bool = False
) -> CheckConstraint:
    """Return the database constraint that says what `bounds` says."""
    condition = Q(**{f"{field}__gte": low, f"{field}__lte": high})
    if null:
        condition |= Q(**{f"{field}__isnull": True})
    return CheckConstraint(condition=condition, name=f"{model}_{field}_bounds")


# A moment is judged by the year at its own place, which a stored one no longer tells: before this
# one it was still the year before everywhere on earth.
FIRST_DAY = dt.date(limits.ENTRY_YEAR_MIN, 1, 1)
FIRST_MOMENT = dt.datetime(limits.ENTRY_YEAR_MIN, 1, 1, tzinfo=dt.UTC) - dt.timedelta(hours=14)


def year_check(
    model: str, field: str, first: dt.date = FIRST_DAY, *, null: bool = False
) -> CheckConstraint:
    """Return the database constraint that says what `too_early` says of a day.

    Pass FIRST_MOMENT for a moment. How far ahead a day may lie hangs on today, which no constraint
    knows: that stays with the model's clean().
    """
    condition = Q(**{f"{field}__gte": first})
    if null:
        condition |= Q(**{f"{field}__isnull": True})
    return CheckConstraint(condition=condition, name=f"{model}_{field}_year")


def too_early(**moments: dt.date | None) -> dict[str, str]:
    """Return {field: sentence} of the dates and moments that lie before any honest entry."""
    first = limits.ENTRY_YEAR_MIN
    return {
        name: f"The year is {first} or later."
        for name, moment in moments.items()
        if moment is not None and moment.year < first
    }


def too_far_ahead(today: dt.date, **days: dt.date | None) -> dict[str, str]:
    """Return {field: sentence} of the dates on which no honest plan begins."""
    last = today + dt.timedelta(days=limits.PLAN_AHEAD_DAYS_MAX)
    return {
        name: "At most a year from now, please."
        for name, day in days.items()
        if day is not None and day > last
    }


def allowed_gaps(instance: Model, *, shown: Container[str]) -> set[str]:
    """Return the fields not shown that are empty where the database lets them be.

    A row whose maker has left has no maker: that must not stop anyone from changing it. Fields
    that may be blank need no such leave, and constraints may hang on them.
    """
    return {
        field.name
        for field in instance._meta.fields
        if field.null
        and not field.blank
        and field.name not in shown
        and getattr(instance, field.attname) is None
    }


def hidden_text_problem(field: Field, value: object) -> str | None:
    """Return the sentence on what can't be seen in the value of a text field, None if all can."""
    if not isinstance(field, TEXT_FIELDS):
        return None
    for text in texts_within(value):
        if (hidden := hidden_character(text)) is not None:
            return (
                f"This holds a character that can't be seen (U+{ord(hidden):04X}). "
                "Delete the text and type it anew."
            )
    if isinstance(value, str) and value.strip() and not is_visible(value):
        return "Type at least one character that can be seen."
    return None


@cache
def text_fields(meta: Options) -> tuple[Field, ...]:
    """Return the fields of a model, given its Options, that hold texts."""
    return tuple(field for field in meta.fields if isinstance(field, TEXT_FIELDS))


class VisibleTexts(BesideModel):
    """Mixin before a Model whose texts others read: none of them hides a character.

    It is part of full_clean(), where forms, API and imports all end.
    """

    def clean_fields(self, exclude: Collection[str] | None = None) -> None:
        errors: dict[str, list[ValidationError]] = {}
        try:
            super().clean_fields(exclude=exclude)
        except ValidationError as problem:
            errors = problem.update_error_dict(errors)
        for field in text_fields(self._meta):
            if field.name in errors or field.name in (exclude or ()):
                continue
            if hidden := hidden_text_problem(field, getattr(self, field.attname)):
                errors[field.name] = [ValidationError(hidden, code="hidden")]
        if errors:
            raise ValidationError(errors)
