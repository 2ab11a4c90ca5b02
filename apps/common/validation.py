"""One contract for every way in: forms and API both end in the model's full_clean().

A ModelForm leaves out constraints that touch a field it does not show, and a DRF
serializer skips clean() and constraints; these two mixins close both gaps.
"""

import copy

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import CheckConstraint, Q
from rest_framework import serializers


def bounds(low, high):
    """Return the two field validators for low <= value <= high."""
    return [MinValueValidator(low), MaxValueValidator(high)]


def bounds_check(model, field, low, high, *, null=False):
    """Return the database constraint that says what `bounds` says."""
    condition = Q(**{f"{field}__gte": low, f"{field}__lte": high})
    if null:
        condition |= Q(**{f"{field}__isnull": True})
    return CheckConstraint(condition=condition, name=f"{model}_{field}_bounds")


class WholeModelForm:
    """Mixin before ModelForm: validates the whole instance, hidden fields included.

    Give the form an instance that already carries what the page fixes (the tank, the coral).
    """

    def _get_validation_exclusions(self):
        # Only what failed already stays out, so that no error is told twice.
        return {name for name in self._errors if name != NON_FIELD_ERRORS}

    def _update_errors(self, errors):
        if not hasattr(errors, "error_dict"):
            return super()._update_errors(errors)
        shown = {}
        for name, problems in errors.error_dict.items():
            home = name if name in self.fields or name == NON_FIELD_ERRORS else NON_FIELD_ERRORS
            shown.setdefault(home, []).extend(problems)
        return super()._update_errors(ValidationError(shown))


class WholeModelSerializer(serializers.ModelSerializer):
    """A ModelSerializer that runs full_clean() on the instance it is about to save.

    The view passes what the address fixes as context["fixed"], e.g. {"tank": tank}.
    """

    def validate(self, attrs):
        fixed = self.context.get("fixed", {})
        candidate = copy.copy(self.instance) if self.instance else self.Meta.model()
        for name, value in {**fixed, **attrs}.items():
            setattr(candidate, name, value)
        try:
            candidate.full_clean()
        except ValidationError as problem:
            raise serializers.ValidationError(
                problem.message_dict if hasattr(problem, "error_dict") else problem.messages
            ) from None
        return attrs
