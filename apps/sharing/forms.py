"""What an owner chooses when making a share link."""

import datetime as dt

from django import forms
from django.utils import timezone

from apps.common.validation import WholeModelForm
from apps.sharing.models import ShareLink

EXPIRY_DAYS = [(7, "a week"), (30, "a month"), (90, "three months"), (365, "a year")]
USUAL_DAYS = 30


class ShareLinkForm(WholeModelForm, forms.ModelForm):
    """Needs an instance that carries the tank, the maker and a token."""

    days = forms.TypedChoiceField(
        label="Opens for", choices=EXPIRY_DAYS, coerce=int, initial=USUAL_DAYS
    )

    class Meta:
        model = ShareLink
        fields = ["label", "show_corals", "show_notes", "show_photos"]
        help_texts = {
            "label": "So that you know later which link to revoke. The visitor doesn’t see it.",
            "show_notes": "Notes name the coral they are about.",
        }

    field_order = ["label", "days", "show_corals", "show_notes", "show_photos"]

    def clean(self):
        cleaned = super().clean()
        days = cleaned.get("days", USUAL_DAYS)
        self.instance.expires_at = timezone.now() + dt.timedelta(days=days)
        return cleaned
