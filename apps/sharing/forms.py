"""What an owner chooses when making a share link."""

from django import forms
from django.contrib.auth.hashers import make_password

from apps.common.links.forms import LinkForm
from apps.sharing.models import PlanLink, ShareLink

PASSPHRASE_CHARS_MIN = 6
LABEL_HELP = "Tells you which link to revoke later. Visitors don’t see it."


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


class PlanLinkForm(LinkForm):
    class Meta:
        model = PlanLink
        fields = ["label"]
        help_texts = {"label": LABEL_HELP}

    field_order = ["label", "days"]
