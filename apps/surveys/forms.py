"""Forms of meters and of a survey's head; readings have a table of their own."""

from django import forms
from django.utils import timezone

from apps.common.units import NumberField
from apps.common.validation import WholeModelForm
from apps.surveys.models import LEVEL, METER_FACTOR, Meter, Survey

LOCAL_FORMAT = "%Y-%m-%dT%H:%M"


class LocalDateTimeField(forms.DateTimeField):
    """A date and time as the clock at the tank shows it."""

    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format=LOCAL_FORMAT)

    def __init__(self, *, zone, **kwargs):
        self.zone = zone
        super().__init__(**kwargs)

    def prepare_value(self, value):
        with timezone.override(self.zone):
            return super().prepare_value(value)

    def to_python(self, value):
        with timezone.override(self.zone):
            return super().to_python(value)


class MeterForm(WholeModelForm, forms.ModelForm):
    correction_factor = NumberField(
        label="Multiply readings by",
        low=METER_FACTOR[0],
        high=METER_FACTOR[1],
        help_text="1 if the meter already corrects for water. A sensor calibrated in air reads low "
        "in water; its maker states the factor, often called immersion factor.",
    )

    class Meta:
        model = Meter
        fields = ["label", "kind", "correction_factor"]
        labels = {"label": "What you call it"}


class SurveyForm(WholeModelForm, forms.ModelForm):
    take_factor = forms.BooleanField(
        required=False,
        label="Correct these readings with the meter's present factor",
    )

    class Meta:
        model = Survey
        fields = ["taken_at", "meter", "level_percent", "light_note", "notes"]
        widgets = {"notes": forms.Textarea(attrs={"rows": 4})}

    def __init__(self, *args, user, **kwargs):
        super().__init__(*args, **kwargs)
        tank = self.instance.tank
        self.fields["taken_at"] = LocalDateTimeField(
            zone=tank.zone, label="When", help_text=f"By the clock at the tank ({tank.time_zone})."
        )
        self.fields["level_percent"] = NumberField(
            label="Lights at, %", low=LEVEL[0], high=LEVEL[1], words=("%",)
        )
        # A friend's meter stays pickable on the survey it was used for, and nowhere else.
        own, used = Meter.objects.owned_by(user), Meter.objects.filter(pk=self.instance.meter_id)
        self.fields["meter"].queryset = own | used
        self.fields["meter"].empty_label = "none named"
        if self.instance.pk is None or not self.instance.factor_is_stale():
            del self.fields["take_factor"]

    def save(self, commit=True):
        if "meter" in self.changed_data or self.cleaned_data.get("take_factor"):
            self.instance.take_meter_factor()
        return super().save(commit)
