"""What an owner chooses when making a share link."""

import datetime as dt

from django import forms
from django.contrib.auth.hashers import make_password
from django.utils import timezone

from apps.common.validation import WholeModelForm
from apps.sharing.models import PlanLink, ShareLink

EXPIRY_DAYS = [(7, "a week"), (30, "a month"), (90, "three months"), (365, "a year")]
USUAL_DAYS = 30
PASSPHRASE_CHARS_MIN = 6
LABEL_HELP = "Tells you which link to revoke later. Visitors don’t see it."


class LinkForm(WholeModelForm, forms.ModelForm):
    """Needs an instance that carries what it opens, its maker and a token."""

    days = forms.TypedChoiceField(
        label="Opens for", choices=EXPIRY_DAYS, coerce=int, initial=USUAL_DAYS
    )

    def clean(self):
        cleaned = super().clean()
        days = cleaned.get("days", USUAL_DAYS)
        self.instance.expires_at = timezone.now() + dt.timedelta(days=days)
        return cleaned


class ShareLinkForm(LinkForm):
    passphrase = forms.CharField(
        label="Passphrase",
        required=False,
        min_length=PASSPHRASE_CHARS_MIN,
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Asked for besides the address. Tell it by another way than the link.",
    )

    class Meta:
        model = ShareLink
        fields = ["label", "show_corals", "show_notes", "show_photos"]
        help_texts = {"label": LABEL_HELP, "show_notes": "Notes name the coral they are about."}

    field_order = ["label", "days", "show_corals", "show_notes", "show_photos", "passphrase"]

    def clean(self):
        cleaned = super().clean()
        typed = cleaned.get("passphrase", "")
        self.instance.passphrase = make_password(typed) if typed else ""
        return cleaned


class ProlongForm(forms.Form):
    days = forms.TypedChoiceField(
        label="Opens for", choices=EXPIRY_DAYS, coerce=int, initial=USUAL_DAYS
    )


class PlanLinkForm(LinkForm):
    class Meta:
        model = PlanLink
        fields = ["label"]
        help_texts = {"label": LABEL_HELP}

    field_order = ["label", "days"]
