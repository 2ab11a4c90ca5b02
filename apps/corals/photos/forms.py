"""Forms of what is marked on a photo, and of sizes."""

from django import forms

from apps.common.model_forms import WholeModelForm
from apps.common.units import LengthField
from apps.corals.colour_models import CoralSize, PhotoColour
from apps.corals.forms import day_input
from apps.corals.photos.marks import (
    UnreadableMark,
    parse_points,
    parse_region,
    parse_regions,
    points_text,
    region_text,
)
from apps.photics import limits
from apps.photics.colour.growth import outline_size
from apps.photics.ground.regions import OUTLINE

CARD_RINGS = 4


class MarkInput(forms.TextInput):
    def __init__(self):
        super().__init__(attrs={"autocomplete": "off", "inputmode": "text", "spellcheck": "false"})


class MarkForm(forms.Form):
    """The marks of one photo; drawing on it writes into these fields, typing does the same."""

    reference_kind = forms.ChoiceField(
        label="The reference is",
        choices=PhotoColour.ReferenceKind.choices,
        widget=forms.RadioSelect,
    )
    light = forms.ChoiceField(
        label="The light was",
        choices=PhotoColour.Light.choices,
        widget=forms.RadioSelect,
        help_text="The camera may have balanced the blue away: only you know.",
    )
    reference = forms.CharField(
        label="Reference",
        required=False,
        widget=MarkInput,
        max_length=4000,
        help_text="Left, top, right and bottom, in percent of the photo. For our colour card: "
        "outline and the middles of its four rings, across and down.",
    )
    regions = forms.CharField(
        label="Parts of the coral",
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 2, "spellcheck": "false"}),
        help_text="One a line: ellipse 42 15 90 85, or box, or outline 40 20, 50 30, 45 55.",
    )
    whole = forms.CharField(
        label="Outline of the whole coral",
        required=False,
        max_length=6000,
        widget=MarkInput,
        help_text="For its size: corners in order, across and down.",
    )
    scale = forms.CharField(
        label="Known length",
        required=False,
        max_length=100,
        widget=MarkInput,
        help_text="Its two ends: across down, across down.",
    )

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["scale_cm"] = LengthField(
            unit=unit,
            low_cm=limits.SCALE_MIN_CM,
            high_cm=limits.SCALE_MAX_CM,
            label="How long the known length is",
            required=False,
        )

    def read(self, name, parse, **how):
        """Return what a field's text marks, None when blank; one that can't be read is an error."""
        text = self.cleaned_data[name].strip()
        if not text:
            return None
        try:
            return parse(text, **how)
        except UnreadableMark as problem:
            raise forms.ValidationError(str(problem)) from None

    def clean_reference(self):
        return self.read("reference", parse_region, usual="box")

    def clean_regions(self):
        result = self.read("regions", parse_regions, usual="ellipse") or []
        if len(result) >= limits.REGIONS_MAX:
            raise forms.ValidationError(f"At most {limits.REGIONS_MAX - 1} parts, please.")
        return result

    def clean_whole(self):
        return self.read("whole", parse_region, usual="outline")

    def clean_scale(self):
        points = self.read("scale", parse_points)
        if points is not None and (len(points) != 2 or points[0] == points[1]):
            raise forms.ValidationError("Give the two ends of one line.")
        return points

    def clean(self):
        given = self.cleaned_data
        marked, kind = given.get("reference"), given.get("reference_kind")
        is_card = kind == PhotoColour.ReferenceKind.CARD
        if marked and is_card and (marked.shape != OUTLINE or len(marked.points) != CARD_RINGS):
            self.add_error("reference", "Mark the middles of the card’s four rings: outline and "
                           "four pairs of numbers.")  # fmt: skip
        if not given.get("whole") and not given.get("scale"):
            if not self.errors and not self.marks_colour:
                self.add_error("reference", "Nothing is marked yet: mark the card, then the coral.")
                self.add_error("regions", "Mark a part of the coral.")
            return given
        words = {
            "whole": "Draw around the whole coral too.",
            "scale": "Mark something whose length you know.",
            "scale_cm": "Say how long it is.",
        }
        for name, ask in words.items():
            if not given.get(name) and name not in self.errors:
                self.add_error(name, ask)
        return given

    @property
    def marks_colour(self):
        """Whether anything is marked that has to do with the colour."""
        return bool(self.cleaned_data.get("reference") or self.cleaned_data.get("regions"))

    def size(self, *, width_px, height_px):
        """Return (diameter [cm], area [cm2], marks) by the marks, or None."""
        whole, scale = self.cleaned_data["whole"], self.cleaned_data["scale"]
        if whole is None:
            return None
        scale_cm = self.cleaned_data["scale_cm"]
        diameter_cm, area_cm2, sd_log = outline_size(
            whole.corners(), scale, scale_cm=scale_cm, width_px=width_px, height_px=height_px
        )
        marks = {
            "shape": whole.shape,
            "outline": [list(point) for point in whole.points],
            "scale": [list(point) for point in scale],
            "scale_cm": scale_cm,
            "sd_log": sd_log,
        }
        return diameter_cm, area_cm2, marks


def mark_initial(marks, size):
    """Return what a MarkForm shows of Marks and of a CoralSize, which may be None."""
    initial = {
        "reference_kind": marks.reference_kind,
        "light": marks.light,
        "reference": region_text(marks.reference) if marks.reference else "",
        "regions": "\n".join(region_text(region) for region in marks.regions),
    }
    if size is not None and size.marks:
        shape, corners = size.marks.get("shape", "outline"), size.marks["outline"]
        initial["whole"] = f"{shape} {points_text(corners)}"
        initial["scale"] = points_text(size.marks["scale"])
        initial["scale_cm"] = float(size.marks["scale_cm"])
    return initial


class SizeForm(WholeModelForm, forms.ModelForm):
    """A size by calipers whose instance already carries its coral."""

    class Meta:
        model = CoralSize
        fields = ["measured_on"]
        labels = {"measured_on": "When"}
        widgets = {"measured_on": day_input()}

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["diameter_cm"] = LengthField(
            unit=unit,
            low_cm=limits.CORAL_SIZE_MIN_CM,
            high_cm=limits.CORAL_SIZE_MAX_CM,
            label="Across, at its widest",
        )
        self.initial.setdefault("diameter_cm", self.instance.diameter_cm)
        self.order_fields(["diameter_cm", "measured_on"])

    def _post_clean(self):
        self.instance.diameter_cm = self.cleaned_data.get("diameter_cm")
        super()._post_clean()
