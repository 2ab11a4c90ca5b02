"""A new token: its name, what it may, and how long."""

import datetime as dt

from django import forms

from apps.api.models import TokenCard

DAYS = ((30, "30 days"), (183, "half a year"), (365, "a year"))


class TokenForm(forms.ModelForm):
    days = forms.TypedChoiceField(label="Expires after", choices=DAYS, coerce=int, initial=183)

    class Meta:
        model = TokenCard
        fields = ["name", "scope"]

    @property
    def lifetime(self) -> dt.timedelta:
        return dt.timedelta(days=self.cleaned_data["days"])
