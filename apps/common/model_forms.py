"""Forms of a model's rows, which end in its full_clean().

A ModelForm leaves out constraints that touch a field it does not show; the mixin closes that gap.
"""

from typing import TYPE_CHECKING, Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import BLANK_CHOICE_DASH
from django.forms import ChoiceField, ModelChoiceField

from apps.common.moments import LocalDateTimeField
from apps.common.own_fields import changed_since, save_own, values_of
from apps.common.units import LengthField
from apps.common.validation import allowed_gaps

# A mixin reads what the class beside it has; when the app runs it stands on its own.
if TYPE_CHECKING:
    from django.forms import ModelForm as BesideForm
else:
    BesideForm = object

# What a choice shows that nobody made.
NOT_SAID = "not said"


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
