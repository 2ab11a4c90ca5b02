"""What an owner chooses when making a share link."""

from django import forms
from django.contrib.auth.hashers import make_password

from apps.common.links.forms import LinkForm
from apps.sharing.models import PlanLink, ShareLink
from apps.tanks.models import Tank

PASSPHRASE_CHARS_MIN = 6
LABEL_HELP = "Tells you which link to revoke later. Visitors don’t see it."


class LockedLinkForm(LinkForm):
    passphrase = forms.CharField(
        label="Passphrase",
        required=False,
        min_length=PASSPHRASE_CHARS_MIN,
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Asked for besides the address. Tell it by another way than the link.",
    )

    def clean(self):
        cleaned = super().clean()
        typed = cleaned.get("passphrase", "")
        self.instance.passphrase = make_password(typed) if typed else ""
        return cleaned


class ShareLinkForm(LockedLinkForm):
    class Meta:
        model = ShareLink
        fields = ["label", "as_of", "show_corals", "show_notes", "show_photos", "may_comment"]
        labels = {"as_of": "As of"}
        help_texts = {
            "label": LABEL_HELP,
            "as_of": "Map, corals and notes as on that day. Leave empty to keep them up to date.",
        }
        widgets = {"as_of": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}


class TakePlanForm(forms.Form):
    """Into which of the reader's tanks a shared plan is copied."""

    tank = forms.ModelChoiceField(Tank.objects.none(), label="Tank", empty_label=None)

    def __init__(self, *args, user, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["tank"].queryset = Tank.objects.changeable_by(user).filter(ended_on=None)


class PlanLinkForm(LockedLinkForm):
    class Meta:
        model = PlanLink
        fields = ["label"]
        help_texts = {"label": LABEL_HELP}

    field_order = ["label", "days", "passphrase"]
