"""What a keeper calls a plan."""

from django import forms

from apps.common.validation import WholeModelForm
from apps.planning.models import Plan


class PlanNameForm(WholeModelForm, forms.ModelForm):
    """Needs an instance that carries owner, tank and kind."""

    class Meta:
        model = Plan
        fields = ["name", "notes"]
        labels = {"name": "Save as a plan, called", "notes": "Notes"}
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "notes": forms.Textarea(attrs={"rows": 2}),
        }
