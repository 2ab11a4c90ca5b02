"""Forms of an acclimation: made for a coral or a whole tank, and its dates edited later."""

from django import forms
from django.core.exceptions import ValidationError

from apps.common.model_forms import WholeModelForm
from apps.common.numbers import PAR_WORDS, UnreadableNumber, parse_number, shorten
from apps.common.units import NumberField
from apps.corals.forms import day_input
from apps.lighting.change.factor import FactorField
from apps.photics.ground.dose import dli_mol
from apps.planning.models import LIGHT, RATE, Acclimation, AcclimationTick

DLI_WORDS = ("dli", "mol", "mol/m²", "mol/m2", "mol/m²/d", "mol/m2/d")


class LightTypedField(NumberField):
    """PAR, or daily light where the text says so; cleans to PAR [umol m-2 s-1]."""

    def __init__(self, *, full_hours: float | None, **kwargs: object) -> None:
        super().__init__(words=PAR_WORDS, low=LIGHT[0], high=LIGHT[1], **kwargs)
        self.full_hours = full_hours
        # Not a decimal keypad: "6.5 mol" must be easy to type.
        self.widget.attrs["inputmode"] = "text"

    def prepare_value(self, value: object) -> object:
        return f"{value:.0f}" if isinstance(value, int | float) else value

    def to_python(self, value: object) -> float | None:
        text = str(value or "").strip().lower()
        if not text.endswith(DLI_WORDS):
            return super().to_python(value)
        if not self.full_hours:
            raise ValidationError(
                "The light log doesn’t say how long the lights burn, so daily light can’t be "
                "turned into PAR. Give PAR."
            )
        try:
            daily_mol = parse_number(text, words=DLI_WORDS)
        except UnreadableNumber as problem:
            raise ValidationError(f"“{shorten(text)}”: {problem}") from None
        return daily_mol / dli_mol(1.0, full_hours=self.full_hours)


class StepsForm(WholeModelForm, forms.ModelForm):
    """What a plan is made from, for a coral or a tank: the means, the pace and the days."""

    rate_percent = NumberField(
        label="Largest daily step",
        words=("%", "percent"),
        low=RATE[0],
        high=RATE[1],
        help_text="15 % is our own choice. Smaller is gentler and longer.",
    )

    class Meta:
        model = Acclimation
        fields = ["means", "pace", "rate_percent", "every_days", "starts_on", "waits", "text"]
        labels = {
            "means": "By", "pace": "How long", "every_days": "Days between steps",
            "starts_on": "First step on", "waits": "Each step waits for a note that it looks well",
            "text": "In your words",
        }  # fmt: skip
        widgets = {
            "means": forms.RadioSelect,
            "pace": forms.RadioSelect,
            "starts_on": day_input(),
            "text": forms.Textarea(attrs={"rows": 2}),
            "every_days": forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pace"].choices = Acclimation.Pace.choices

    @property
    def tells_more(self) -> bool:
        """Whether what most plans leave as it is, is wrong or says something."""
        names = ("rate_percent", "every_days", "waits", "text")
        return any(name in self.errors or (self.is_bound and name in self.changed_data)
                   for name in names)  # fmt: skip


class CoralStepsForm(StepsForm):
    """For one coral, whose PAR at its spot is known or typed."""

    field_order = ["start_umol", "target_umol", *StepsForm.Meta.fields]

    class Meta(StepsForm.Meta):
        fields = ["start_umol", "target_umol", *StepsForm.Meta.fields]

    def __init__(self, *args: object, full_hours: float | None, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["start_umol"] = LightTypedField(label="Light now", full_hours=full_hours)
        self.fields["target_umol"] = LightTypedField(label="Target light", full_hours=full_hours)
        self.fields["means"].choices = Acclimation.Means.choices
        self.order_fields(self.field_order)


class TankStepsForm(StepsForm):
    """For all corals at once; the most sensitive of them leads."""

    field_order = ["factor", *StepsForm.Meta.fields]
    factor = FactorField(
        label="How much light in the end",
        help_text="Against now: 1.25 or +25 % is a quarter more. 100 % is the light as it is, "
        "for corals that are not used to it yet.",
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["means"].choices = [
            (value, label)
            for value, label in Acclimation.Means.choices
            if value in Acclimation.WHOLE_TANK_MEANS
        ]
        self.order_fields(self.field_order)


class DatesForm(WholeModelForm, forms.ModelForm):
    """What of a plan may change once it is made: days and words, never its light."""

    class Meta:
        model = Acclimation
        fields = ["starts_on", "every_days", "waits", "text"]
        labels = StepsForm.Meta.labels
        widgets = {
            name: StepsForm.Meta.widgets[name] for name in ("starts_on", "every_days", "text")
        }


class TickForm(forms.ModelForm):
    """The day a step was taken."""

    class Meta:
        model = AcclimationTick
        fields = ["done_on"]
        labels = {"done_on": "Done on"}
        widgets = {"done_on": day_input()}
