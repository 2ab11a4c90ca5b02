"""The form of one light change."""

from django import forms

from apps.common.model_forms import WholeModelForm
from apps.common.moments import LocalDateTimeField
from apps.common.units import NumberField
from apps.lighting.change.factor import FactorField
from apps.lighting.fixture_models import COVER_READING, PASSES
from apps.lighting.models import HOURS, LightChange

COVER_FIELDS = (
    "cover", "cover_done", "cover_percent", "cover_without_umol", "cover_with_umol",
)  # fmt: skip
HOUR_WORDS = ("h", "hour", "hours", "hrs")


class LightChangeForm(WholeModelForm, forms.ModelForm):
    """Times are those of the tank: call it with the tank's time zone in force."""

    happened_at = LocalDateTimeField(label="When")
    factor = FactorField(
        label="Light after it, for 1 before",
        help_text="For salt wiped off, or a guess. 0.8 or -20 % is a fifth less, "
        "1.25 or +25 % a quarter more. Leave 1 if nothing else changed.",
    )
    day_hours = NumberField(
        label="Hours from lights on to lights off",
        words=HOUR_WORDS,
        low=HOURS[0],
        high=HOURS[1],
        required=False,
        help_text="With the ramps. Daily light (DLI) needs it.",
    )
    ramp_hours = NumberField(
        label="Hours of ramp at each end",
        words=HOUR_WORDS,
        low=HOURS[0],
        high=HOURS[1],
        required=False,
        help_text="0 when they go on and off at once.",
    )

    cover_percent = NumberField(
        label="It passes",
        words=("%",),
        low=PASSES[0],
        high=PASSES[1],
        required=False,
        help_text="As its maker states it. Or read once without it and once with it, at one spot.",
    )
    cover_without_umol = NumberField(
        label="Light without it", low=COVER_READING[0], high=COVER_READING[1], required=False
    )
    cover_with_umol = NumberField(
        label="Light with it, same spot",
        low=COVER_READING[0],
        high=COVER_READING[1],
        required=False,
    )

    class Meta:
        model = LightChange
        fields = [
            "reason", "summary", "happened_at", "factor", "day_hours", "ramp_hours", *COVER_FIELDS,
        ]  # fmt: skip
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
        self.fields["cover"].choices = [("", "no change"), *LightChange.Cover.choices]
        self.fields["cover_done"].choices = [("", "not said"), *LightChange.CoverDone.choices]
        self.fields["cover"].label = "Put on or taken off"
        self.fields["cover_done"].label = "Is it there?"

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

    @property
    def opens_cover(self):
        """Whether the cover's fields are shown at once: wrong, or filled."""
        return any(name in self.errors or self[name].value() for name in COVER_FIELDS)

    def clean_reason(self):
        chosen = self.cleaned_data["reason"]
        if chosen or not self.data.get("cover"):
            return chosen or LightChange.Reason.OTHER
        return LightChange.Reason.COVER

    def clean_ramp_hours(self):
        return self.cleaned_data["ramp_hours"] or 0.0


class MomentForm(forms.Form):
    """When something begins, in the tank's time zone in force."""

    happened_at = LocalDateTimeField(label="From")
