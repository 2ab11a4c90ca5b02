"""Forms of corals and spots. Lengths are typed in the keeper's unit."""

from django import forms

from apps.common.model_forms import WholeModelForm
from apps.common.numbers import PAR_WORDS
from apps.common.tables.forms import TableForm, pasted_lines
from apps.common.units import UNIT_CHOICES, LengthField, NumberField
from apps.corals.coral_models import BAND
from apps.corals.models import Coral, Spot
from apps.photics.ground.lengths import CM


def day_input():
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class CoralForm(WholeModelForm, forms.ModelForm):
    """A coral whose instance already carries its tank."""

    band_low_umol = NumberField(
        label="Lower end", words=PAR_WORDS, low=BAND[0], high=BAND[1], required=False
    )
    band_high_umol = NumberField(
        label="Upper end", words=PAR_WORDS, low=BAND[0], high=BAND[1], required=False
    )

    class Meta:
        model = Coral
        fields = [
            "name", "group", "genus", "added_on", "came_from", "parent", "gone_on", "gone_how",
            "gone_words", "band_low_umol", "band_high_umol",
        ]  # fmt: skip
        labels = {
            "name": "Name", "group": "Group", "genus": "Genus",
            "added_on": "In this tank since", "gone_on": "Gone from this tank on",
            "came_from": "Who or where it came from", "parent": "Cut from",
            "gone_how": "What became of it", "gone_words": "To whom, or why",
        }  # fmt: skip
        help_texts = {
            "name": "As you would point it out: “green branching, left rock”.",
            "parent": "The colony in this tank it is a frag of.",
            "gone_on": "It stays in the list of those that are gone, with all its notes.",
        }
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "genus": forms.TextInput(attrs={"autocomplete": "off"}),
            "came_from": forms.TextInput(attrs={"autocomplete": "off"}),
            "gone_words": forms.TextInput(attrs={"autocomplete": "off"}),
            "group": forms.RadioSelect,
            "added_on": day_input(),
            "gone_on": day_input(),
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        # A choice must be made, so there is no empty one to choose.
        self.fields["group"].choices = Coral.Group.choices
        colonies = self.instance.tank.corals.present().exclude(pk=self.instance.pk)
        self.fields["parent"].queryset = colonies
        self.fields["parent"].empty_label = "no colony of this tank"
        if self.instance.pk is None:
            for name in ("gone_on", "gone_how", "gone_words"):
                del self.fields[name]


class ManyCoralsForm(TableForm):
    """Many corals at once, one a line."""

    text = pasted_lines("One coral a line", rows=12)
    bad = None
    added_on = forms.DateField(label="In this tank since", widget=day_input())
    unit = forms.ChoiceField(label="Lengths without a unit are in", choices=UNIT_CHOICES)


class PlaceFields(forms.Form):
    """The three numbers of a place in the water, as every form of a spot asks for them."""

    def __init__(self, *args, tank, unit, place_required=True, **kwargs):
        super().__init__(*args, **kwargs)
        ends = {
            "x_cm": ("From the left", tank.length_cm),
            "y_cm": ("From the front", tank.width_cm),
            "depth_cm": ("Below surface", tank.depth_cm),
        }
        for name, (label, end) in ends.items():
            self.fields[name] = LengthField(
                unit=unit, low_cm=0, high_cm=end, label=label, required=place_required
            )
        self.order_fields(ends)


def given_place(params, tank):
    """Return the place an address names as {name: cm}; {} when it names none in the water."""
    given = PlaceFields(params, tank=tank, unit=CM)
    return given.cleaned_data if given.is_valid() else {}


class FirstSpotForm(PlaceFields):
    """Where a new coral sits: all three numbers, or none."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, prefix="spot", place_required=False, **kwargs)

    def clean(self):
        given = {name: self.cleaned_data.get(name) for name in ("x_cm", "y_cm", "depth_cm")}
        missing = [n for n, v in given.items() if v is None and n not in self.errors]
        if len(missing) < 3 and (missing or self.errors):
            for name in missing:
                self.add_error(name, "Give all three numbers, or leave all three blank.")
        return self.cleaned_data

    def spot(self):
        """Return the unsaved Spot, or None when nothing was given."""
        if self.cleaned_data["x_cm"] is None:
            return None
        return Spot(**{name: self.cleaned_data[name] for name in ("x_cm", "y_cm", "depth_cm")})


class SpotForm(WholeModelForm, PlaceFields, forms.ModelForm):
    """A spot whose instance already carries its coral."""

    class Meta:
        model = Spot
        fields = ["x_cm", "y_cm", "depth_cm", "since"]
        labels = {"since": "From"}
        widgets = {"since": day_input()}
