"""One contract for every way in: forms and API both end in the model's full_clean().

A ModelForm leaves out constraints that touch a field it does not show, and a DRF
serializer skips clean() and constraints; these two mixins close both gaps.
"""

import copy
import datetime as dt
import json
from collections.abc import Collection, Container, Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.validators import BaseValidator, MaxValueValidator, MinValueValidator
from django.db.models import (
    BLANK_CHOICE_DASH,
    CharField,
    CheckConstraint,
    DateTimeField,
    Field,
    FloatField,
    JSONField,
    Model,
    Q,
    TextField,
)
from django.db.models.options import Options
from django.forms import ChoiceField, ModelChoiceField
from rest_framework import serializers
from rest_framework.renderers import JSONRenderer
from rest_framework.settings import api_settings

from apps.common.moments import LocalDateTimeField
from apps.common.own_fields import changed_since, save_own, values_of
from apps.common.texts import hidden_character, is_storable, is_visible, texts_within
from apps.common.units import LengthField
from apps.photics import limits

# A mixin reads what the class beside it has; when the app runs it stands on its own.
if TYPE_CHECKING:
    from django.db.models import Model as BesideModel
    from django.forms import ModelForm as BesideForm
    from rest_framework.serializers import Serializer as BesideSerializer
else:
    BesideModel = BesideForm = BesideSerializer = object

TEXT_FIELDS = (CharField, TextField, JSONField)
# What a choice shows that nobody made.
NOT_SAID = "not said"


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


class WholeModelForm(BesideForm):
    """Mixin before ModelForm: validates the whole instance, hidden fields included.

    Give the form an instance that already carries what the page fixes (the tank, the coral). A
    stored one is saved with the fields of the form, and those that it or the model set: what
    others changed meanwhile stays.
    """

    # Fields that the page sets on the instance itself, before it makes the form.
    also_saves: tuple[str, ...] = ()

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.before = values_of(self.instance)
        for field in self.fields.values():
            if isinstance(field, ChoiceField):
                name_unset(field)

    def save(self, commit: bool = True) -> Any:
        row = super().save(commit=False)
        if commit:
            save_own(row, {*self.fields, *self.also_saves, *changed_since(row, self.before)})
            self.save_m2m()
        return row

    def _post_clean(self) -> None:
        # A shown length is rounded to its unit, a moment to its minute. Left as it was shown, it
        # stays as it was stored.
        for name, field in self.fields.items():
            stored = self.initial.get(name)
            is_rounded = isinstance(field, LengthField | LocalDateTimeField)
            if not is_rounded or stored is None or name not in self.cleaned_data:
                continue
            if self[name].data == field.widget.format_value(field.prepare_value(stored)):
                self.cleaned_data[name] = stored
        super()._post_clean()

    def _get_validation_exclusions(self) -> set[str]:
        # What failed already stays out, so that no error is shown twice.
        failed = {name for name in self._errors if name != NON_FIELD_ERRORS}
        return failed | allowed_gaps(self.instance, shown=self.fields)

    def _update_errors(self, errors: ValidationError) -> None:
        if not hasattr(errors, "error_dict"):
            return super()._update_errors(errors)
        shown: dict[str, list[ValidationError]] = {}
        for name, problems in errors.error_dict.items():
            home = name if name in self.fields or name == NON_FIELD_ERRORS else NON_FIELD_ERRORS
            shown.setdefault(home, []).extend(problems)
        return super()._update_errors(ValidationError(shown))


def name_unset(field: ChoiceField) -> None:
    """Let an optional choice say in words, not in dashes, that none is made."""
    if isinstance(field, ModelChoiceField):
        if field.empty_label == BLANK_CHOICE_DASH[0][1]:
            field.empty_label = NOT_SAID
    else:
        field.choices = [("", NOT_SAID) if one == BLANK_CHOICE_DASH[0] else one
                         for one in field.choices]  # fmt: skip


class PlainFloatField(serializers.FloatField):
    """A number and no truth value: true is the number 1 to Python, never to a person."""

    def to_internal_value(self, data: object) -> object:
        if isinstance(data, bool):
            self.fail("invalid")
        return super().to_internal_value(data)


class StorableJSONField(serializers.JSONField):
    """JSON whose own texts can be kept, too."""

    def to_internal_value(self, data: object) -> object:
        if not is_storable(data):
            self.fail("invalid")
        return super().to_internal_value(data)


class StorableChoiceField(serializers.ChoiceField):
    """A choice that does not repeat in its answer what no answer can be written with."""

    def to_internal_value(self, data: object) -> object:
        if not is_storable(data):
            self.fail("invalid_choice", input="")
        return super().to_internal_value(data)


class TankMomentField(serializers.DateTimeField):
    """A moment; without an offset it is one of the clock at the tank, as in forms and files.

    The tank is the one that the address fixes (context["fixed"]).
    """

    default_error_messages = {
        "doubled": "The clocks went back then: the tank had this time twice. Add the offset.",
        "skipped": "The clocks went forward then: the tank had no such time.",
    }

    def enforce_timezone(self, value: dt.datetime) -> dt.datetime:
        fixed = self.context.get("fixed", {})
        tank = fixed.get("tank") or getattr(fixed.get("coral"), "tank", None)
        if value.tzinfo is not None or tank is None:
            return super().enforce_timezone(value)
        local = value.replace(tzinfo=tank.zone)
        try:
            there = local.astimezone(dt.UTC).astimezone(tank.zone)
        except OverflowError:
            self.fail("overflow")
        if there.replace(tzinfo=None) != value:
            self.fail("skipped")
        if local.utcoffset() != local.replace(fold=1).utcoffset():
            self.fail("doubled")
        return local


class RefusesUnknown(BesideSerializer):
    """Mixin before a serializer: what it would not take is refused, not left out silently.

    That is a name it does not know, and a read-only field that a new row is given or that is not
    as it stands in the row, so that a row which was read may be sent back whole. Only of rows
    within a row, such as a survey's readings, what is read-only is left aside: they are replaced
    by what was read of others, or of themselves before.
    """

    # Whether each of its rows is made as if it were sent alone.
    makes_rows = False

    # So many names are shown, and so much of each.
    NAMES_MAX, NAME_CHARS = 20, 80
    NO_SUCH_FIELD, READ_ONLY = "There is no such field.", "This is read-only."

    def stored(self) -> object:
        """Return the row that is written to, None for a new one."""
        return self.instance

    def fixed_names(self, data: Mapping[str, object]) -> dict[str, list[str]]:
        """Return {name: sentence} of the read-only fields that do not say what is there."""
        names = [n for n in data if n in self.fields and self.fields[n].read_only]
        row = self.stored()
        is_within = self.root is not self and not getattr(self.root, "makes_rows", False)
        if not names or is_within:
            return {}
        there = {} if row is None else plain_json(self.to_representation(row))
        odd = [n for n in names if n not in there or not is_same_value(data[n], there[n])]
        return {name: [self.READ_ONLY] for name in odd}

    def to_internal_value(self, data: object) -> object:
        known = self.fields
        names = sorted(data.keys() - known.keys()) if isinstance(data, dict) else []
        shown = [name[: self.NAME_CHARS] for name in names[: self.NAMES_MAX]]
        unknown = {name: [self.NO_SUCH_FIELD] for name in shown if is_storable(name)}
        fixed = self.fixed_names(data) if isinstance(data, dict) else {}
        try:
            result = super().to_internal_value(data)
        except serializers.ValidationError as problem:
            raise serializers.ValidationError(problem.detail | unknown | fixed) from None
        if names or fixed:
            whole = {api_settings.NON_FIELD_ERRORS_KEY: [self.NO_SUCH_FIELD]}
            raise serializers.ValidationError((unknown or (whole if names else {})) | fixed)
        return result


def plain_json(value: object) -> Any:
    """Return what a program reads where a value is answered."""
    return json.loads(JSONRenderer().render(value))


def is_same_value(sent: object, there: object) -> bool:
    """Whether what was sent says what is there; a moment may be written in other ways."""
    if isinstance(sent, str) and isinstance(there, str) and sent != there:
        try:
            moments = [dt.datetime.fromisoformat(text) for text in (sent, there)]
            return moments[0] == moments[1]
        except (ValueError, OverflowError):
            return False
    # True is the number 1 to Python, never to a program.
    return isinstance(sent, bool) == isinstance(there, bool) and sent == there


class StrictSerializer(RefusesUnknown, serializers.ModelSerializer):
    """A ModelSerializer whose fields take no odd JSON; what saves its rows must check them."""

    serializer_field_mapping = {
        **serializers.ModelSerializer.serializer_field_mapping,
        DateTimeField: TankMomentField,
        FloatField: PlainFloatField,
        JSONField: StorableJSONField,
    }
    serializer_choice_field = StorableChoiceField


class WholeModelSerializer(StrictSerializer):
    """A ModelSerializer that runs full_clean() on the instance it is about to save.

    The view passes what the address fixes as context["fixed"], e.g. {"tank": tank}.
    """

    def candidate(self, attrs: Mapping[str, object]) -> Model:
        """Return the instance as it would be saved, the stored one untouched."""
        candidate = copy.copy(self.instance) if self.instance else self.Meta.model()
        for name, value in {**self.context.get("fixed", {}), **attrs}.items():
            setattr(candidate, name, value)
        return candidate

    def validate(self, attrs: dict[str, object]) -> dict[str, object]:
        candidate = self.candidate(attrs)
        try:
            candidate.full_clean(exclude=allowed_gaps(candidate, shown=self.fields))
        except ValidationError as problem:
            raise serializers.ValidationError(api_messages(problem)) from None
        return attrs

    def update(self, instance: Model, validated_data: dict[str, object]) -> Model:
        """Save of a stored row what was sent: what others changed meanwhile stays."""
        for name, value in validated_data.items():
            setattr(instance, name, value)
        save_own(instance, validated_data)
        return instance


def api_messages(problem: ValidationError, home: str = NON_FIELD_ERRORS) -> dict[str, list[str]]:
    """Return the messages of a ValidationError as an API answer names them.

    Those of no field stand under `home`.
    """
    named = hasattr(problem, "error_dict")
    messages = dict(problem.message_dict) if named else {home: list(problem.messages)}
    if NON_FIELD_ERRORS in messages:
        messages[api_settings.NON_FIELD_ERRORS_KEY] = messages.pop(NON_FIELD_ERRORS)
    return messages
