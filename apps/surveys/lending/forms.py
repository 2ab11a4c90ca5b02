"""Until when a club's meter is kept, and to whom it is handed."""

import datetime as dt

from django import forms

from apps.accounts.models import User
from apps.surveys.models import Meter

# Nobody keeps a shared meter longer: chosen.
UNTIL_MOST = dt.timedelta(days=366)


class UntilForm(forms.Form):
    until = forms.DateField(
        label="Until", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: object, today: dt.date, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_until(self) -> dt.date:
        until = self.cleaned_data["until"]
        if not self.today <= until <= self.today + UNTIL_MOST:
            raise forms.ValidationError("From today to a year from now, please.")
        return until


class HandOverForm(forms.Form):
    to = forms.ModelChoiceField(label="Hand it to", queryset=User.objects.none(), empty_label=None)

    def __init__(self, *args: object, meter: Meter, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        members = User.objects.filter(club_memberships__club=meter.club_id)
        self.fields["to"].queryset = members.order_by("club_memberships__joined_at", "pk")
