"""Forms of the tank, its rocks and its people."""

from django import forms

from apps.accounts.models import validate_time_zone
from apps.common.units import LengthField
from apps.common.validation import WholeModelForm
from apps.tanks.models import (
    DEPTH,
    INSIDE,
    ROCK_HEIGHT,
    ROCK_SIDE,
    SIDE,
    Invitation,
    Membership,
    Rock,
    Tank,
)


class TankForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = Tank
        fields = [
            "name", "length_cm", "width_cm", "depth_cm", "back_pane", "bottom", "time_zone",
        ]  # fmt: skip
        widgets = {
            "back_pane": forms.RadioSelect,
            "bottom": forms.RadioSelect,
            "time_zone": forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off"}),
        }
        help_texts = {
            "back_pane": "Clear glass throws light back into the water; a painted pane does not.",
            "time_zone": "Where the tank stands, such as Europe/Berlin.",
        }

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        sides = {
            "length_cm": ("Length, left to right", SIDE),
            "width_cm": ("Width, front to back", SIDE),
            "depth_cm": ("Depth of the water", DEPTH),
        }
        for name, (label, (low, high)) in sides.items():
            self.fields[name] = LengthField(unit=unit, label=label, low_cm=low, high_cm=high)

    def clean_time_zone(self):
        name = self.cleaned_data["time_zone"].strip()
        validate_time_zone(name)
        return name


class RockForm(WholeModelForm, forms.ModelForm):
    """A rock in a tank: the instance carries the tank."""

    class Meta:
        model = Rock
        fields = [
            "name", "x_cm", "y_cm", "depth_cm", "length_cm", "width_cm", "height_cm",
        ]  # fmt: skip

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        self.instance.told_in = unit
        measures = {
            "x_cm": ("From the left end", INSIDE),
            "y_cm": ("From the front pane", INSIDE),
            "depth_cm": ("Top below the surface", INSIDE),
            "length_cm": ("Length, left to right", ROCK_SIDE),
            "width_cm": ("Width, front to back", ROCK_SIDE),
            "height_cm": ("Height", ROCK_HEIGHT),
        }
        for name, (label, (low, high)) in measures.items():
            self.fields[name] = LengthField(unit=unit, label=label, low_cm=low, high_cm=high)


class InvitationForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = Invitation
        fields = ["email", "role"]
        widgets = {"role": forms.RadioSelect}

    def clean_email(self):
        return self.cleaned_data["email"].strip()


class MembershipForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = Membership
        fields = ["role"]
        labels = {"role": "May"}
        widgets = {"role": forms.RadioSelect}
