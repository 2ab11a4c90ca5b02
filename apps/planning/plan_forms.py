"""What a keeper calls a plan."""

from django import forms

from apps.common.model_forms import WholeModelForm
from apps.planning.models import Plan


class PlanNameForm(WholeModelForm, forms.ModelForm):
    """Needs an instance that carries owner, tank and kind."""

    class Meta:
        model = Plan
        fields = ["name", "notes"]
        labels = {"name": "Plan name", "notes": "Notes"}
        widgets = {
            "name": forms.TextInput(
                attrs={"autocomplete": "off", "placeholder": "blank: named after the change"}
            ),
            "notes": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        # One that is left blank is given before it is checked.
        self.fields["name"].required = False
