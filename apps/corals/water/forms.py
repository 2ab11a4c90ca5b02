"""Forms of the water log. Times are those of the tank: use them with its time zone in force."""

from django import forms

from apps.common.model_forms import WholeModelForm
from apps.common.moments import LocalDateTimeField
from apps.common.tables.date_order import DateOrderField
from apps.common.tables.forms import TableForm, pasted_lines
from apps.common.units import NumberField
from apps.corals.models import WaterEvent
from apps.corals.water_models import WATER_VALUE

# Offered while a unit is typed; any other may be written.
UNITS = (
    "°C",
    "°F",
    "dKH",
    "meq/L",
    "mg/L nitrate",
    "mg/L phosphate",
    "ppt",
    "SG",
    "mS/cm",
    "mg/L",
    "pH",
    "ml",
    "litres",
    "gallons",
    "%",
)
HARM_CHOICES = [(False, "no: a reading, or routine"), (True, "yes, it could have")]


class WaterEventForm(WholeModelForm, forms.ModelForm):
    """A water event whose instance already carries its tank."""

    kind = forms.ChoiceField(
        label="What about", choices=WaterEvent.Kind.choices, widget=forms.RadioSelect
    )
    happened_at = LocalDateTimeField(label="When")
    value = NumberField(label="Value", low=WATER_VALUE[0], high=WATER_VALUE[1], required=False)
    could_hurt = forms.TypedChoiceField(
        label="Could it have hurt corals?",
        coerce=lambda said: said == "True",
        choices=HARM_CHOICES,
        widget=forms.RadioSelect,
        help_text="A swing, a crash, an overdose, a pest: what could have is weighed against the "
        "light when corals change. A plain reading counts by its value, once there are several.",
    )

    class Meta:
        model = WaterEvent
        fields = ["kind", "value", "unit", "text", "happened_at", "could_hurt"]
        labels = {"unit": "Unit", "text": "In your words"}
        widgets = {
            "unit": forms.TextInput(attrs={"list": "units", "autocomplete": "off"}),
            "text": forms.TextInput(attrs={"autocomplete": "off"}),
        }


class WaterImportForm(TableForm):
    """Lines of a water log, pasted or from a file."""

    text = pasted_lines("Paste the lines here", rows=10)
    bad = pasted_lines("Fix them here", rows=6)
    dates = DateOrderField()
