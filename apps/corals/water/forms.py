"""Forms of the water log. Times are those of the tank: use them with its time zone in force."""

from django import forms

from apps.common.moments import LocalDateTimeField
from apps.common.units import NumberField
from apps.common.validation import WholeModelForm
from apps.corals.models import WaterEvent
from apps.corals.water_models import WATER_VALUE
from apps.surveys.tables.date_order import DateOrderField
from apps.surveys.tables.table_files import TableFileField

# Offered while a unit is typed; any other may be written.
UNITS = (
    "°C",
    "°F",
    "dKH",
    "meq/L",
    "mg/L nitrate",
    "mg/L phosphate",
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
        "light when corals change. A plain reading is not.",
    )

    class Meta:
        model = WaterEvent
        fields = ["kind", "value", "unit", "text", "happened_at", "could_hurt"]
        labels = {"unit": "Unit", "text": "In your words"}
        widgets = {
            "unit": forms.TextInput(attrs={"list": "units", "autocomplete": "off"}),
            "text": forms.TextInput(attrs={"autocomplete": "off"}),
        }


class WaterImportForm(forms.Form):
    """Lines of a water log, pasted or from a file; `bad` are those to be fixed."""

    text = forms.CharField(
        label="Paste the lines here",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "autocomplete": "off"}),
    )
    bad = forms.CharField(
        label="Fix them here",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false", "autocomplete": "off"}),
    )
    file = TableFileField(label="Or choose a file")
    dates = DateOrderField()

    def whole_text(self):
        """Return all lines: the file's, or those good so far and those that were not."""
        data = self.cleaned_data
        return data["file"] or "\n".join(filter(None, [data["text"], data["bad"]]))
