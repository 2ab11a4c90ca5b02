"""How long a secret link opens: chosen when it is made, and again when it is prolonged."""

import datetime as dt

from django import forms
from django.utils import timezone

from apps.common.model_forms import WholeModelForm

EXPIRY_DAYS = [(7, "a week"), (30, "a month"), (90, "three months"), (365, "a year")]
USUAL_DAYS = 30


class LinkForm(WholeModelForm, forms.ModelForm):
    """Needs an instance that carries what it opens, its maker and a token."""

    days = forms.TypedChoiceField(
        label="Opens for", choices=EXPIRY_DAYS, coerce=int, initial=USUAL_DAYS
    )

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        days = cleaned.get("days", USUAL_DAYS)
        self.instance.expires_at = timezone.now() + dt.timedelta(days=days)
        return cleaned


class ProlongForm(forms.Form):
    days = forms.TypedChoiceField(
        label="Opens for", choices=EXPIRY_DAYS, coerce=int, initial=USUAL_DAYS
    )
