"""The form that begins a trial."""

from django import forms

from apps.common.model_forms import WholeModelForm
from apps.common.units import NumberField
from apps.corals.models import Coral, Spot
from apps.outcomes.models import CORALS_MAX, Trial
from apps.photics.limits import TRIAL_FACTOR


def corals_to_try(tank):
    """Return a tank's living corals with a spot."""
    return tank.corals.present().living().filter(pk__in=Spot.objects.values("coral"))


class TrialForm(WholeModelForm, forms.ModelForm):
    """A trial whose instance already carries its tank."""

    question = forms.ChoiceField(
        label="What to try", choices=Trial.Question.choices, widget=forms.RadioSelect
    )
    corals = forms.ModelMultipleChoiceField(
        label="Corals",
        queryset=Coral.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        help_text=f"One to {CORALS_MAX}; three is best, one alone proves nothing.",
        error_messages={"required": "Choose at least one coral."},
    )
    factor = NumberField(
        label="Light after (1: as before)",
        low=TRIAL_FACTOR[0],
        high=TRIAL_FACTOR[1],
        help_text="0.8 is a fifth less, 1.25 a quarter more.",
    )

    class Meta:
        model = Trial
        fields = ["question", "corals", "step", "factor", "began_on"]
        labels = {"step": "The one step", "began_on": "First day of notes"}
        help_texts = {"step": "For instance: one ledge down. Nothing else changes until the end."}
        widgets = {
            "step": forms.TextInput(attrs={"autocomplete": "off"}),
            "began_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["corals"].queryset = corals_to_try(self.instance.tank)

    def clean_corals(self):
        corals = list(self.cleaned_data["corals"])
        if len(corals) > CORALS_MAX:
            raise forms.ValidationError(f"At most {CORALS_MAX} corals, so you can note them all.")
        return corals
