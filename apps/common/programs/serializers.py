"""Rows as programs send and read them: strict JSON, which ends in the model's full_clean().

A serializer skips clean() and constraints; WholeModelSerializer closes that gap.
"""

import copy
import datetime as dt
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import DateTimeField, FloatField, JSONField, Model
from rest_framework import serializers
from rest_framework.renderers import JSONRenderer
from rest_framework.settings import api_settings

from apps.common.own_fields import save_own
from apps.common.texts import is_storable
from apps.common.validation import allowed_gaps

# A mixin reads what the class beside it has; when the app runs it stands on its own.
if TYPE_CHECKING:
    from rest_framework.serializers import Serializer as BesideSerializer
else:
    BesideSerializer = object


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
        "doubled": "The clocks went back then, so the tank had this time twice. Add the offset.",
        "skipped": "The clocks went forward then, so the tank never had this time.",
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
