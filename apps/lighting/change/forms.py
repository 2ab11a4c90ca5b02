"""The form of one light change."""

from django import forms

from apps.common.moments import LocalDateTimeField
from apps.common.units import NumberField
from apps.common.validation import WholeModelForm
from apps.lighting.change.factor import FactorField
from apps.lighting.models import HOURS, LightChange

HOUR_WORDS = ("h", "hour", "hours", "hrs")


class LightChangeForm(WholeModelForm, forms.ModelForm):
    """Times are those of the tank: call it with the tank's time zone in force."""

    happened_at = LocalDateTimeField(label="When")
    factor = FactorField(
        label="Besides the fixtures: how much light after it",
        help_text="For what the rows below don’t tell: salt wiped off, a lid, a guess. 0.8 or "
        "-20 % is a fifth less, 1.25 or +25 % a quarter more. Leave 1 when the rows tell it all.",
    )
    day_hours = NumberField(
        label="Hours from lights on to lights off",
        words=HOUR_WORDS,
        low=HOURS[0],
        high=HOURS[1],
        required=False,
        help_text="First light of the ramp to the last. Without it daily light is not known.",
    )
    ramp_hours = NumberField(
        label="Hours of ramp at each end",
        words=HOUR_WORDS,
        low=HOURS[0],
        high=HOURS[1],
        required=False,
        help_text="0 when they go on and off at once.",
    )

    class Meta:
        model = LightChange
        fields = ["reason", "summary", "happened_at", "factor", "day_hours", "ramp_hours"]
        labels = {"reason": "What was done"}
        widgets = {
            "summary": forms.TextInput(
                attrs={"placeholder": "Raised the left lamp by a hand", "autocomplete": "off"}
            )
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        # Left out, it is something else; the words then say what.
        self.fields["reason"].required = False

    @property
    def opens_day(self):
        """Whether the day's fields are shown at once: wrong, changed, or never entered before."""
        names = ("day_hours", "ramp_hours")
        anew = self.is_bound and any(name in self.changed_data for name in names)
        if anew or any(name in self.errors for name in names):
            return True
        return not self.instance.tank.light_changes.present().exclude(pk=self.instance.pk).exists()

    @property
    def opens_factor(self):
        """Whether the factor is shown at once: wrong, or anything but 1."""
        return "factor" in self.errors or str(self["factor"].value() or "1") not in ("1", "1.0")

    def clean_reason(self):
        return self.cleaned_data["reason"] or LightChange.Reason.OTHER

    def clean_ramp_hours(self):
        return self.cleaned_data["ramp_hours"] or 0.0


class MomentForm(forms.Form):
    """When something begins, in the tank's time zone in force."""

    happened_at = LocalDateTimeField(label="From")
