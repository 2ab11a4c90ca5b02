"""Forms of the tank, its rocks and its people."""

from django import forms
from django.db import transaction

from apps.accounts.models import validate_time_zone
from apps.common.model_forms import WholeModelForm
from apps.common.moments import LocalDateTimeField
from apps.common.units import LengthField, NumberField
from apps.tanks.models import (
    DEPTH,
    INSIDE,
    ROCK_HEIGHT,
    ROCK_SIDE,
    SIDE,
    WINDOW_PAR,
    Invitation,
    Membership,
    Rock,
    Tank,
)
from apps.tanks.rezoning import ASK, Means, effects_of, rezoning_errors
from apps.tanks.shape.checking import is_plain
from apps.tanks.shape.fields import LinesField, bow_field, corners_field, cover_field
from apps.tanks.shape.lines import braces_text, read_braces

# What folds up while a tank is a plain box.
SHAPE_FIELDS = (
    "shape", "bow_cm", "outline_cm", "braces", "cover_transmission", "window_side",
    "window_par_umol",
)  # fmt: skip

# Rocks drawn on one page. Our own choice: a rough outline takes a handful.
ROCKS_DRAWN_MAX = 20


class TankForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = Tank
        fields = [
            "name", "length_cm", "width_cm", "depth_cm", "back_pane", "bottom", *SHAPE_FIELDS,
            "time_zone",
        ]  # fmt: skip
        widgets = {
            "shape": forms.RadioSelect,
            "back_pane": forms.RadioSelect,
            "bottom": forms.RadioSelect,
            "time_zone": forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off"}),
        }
        help_texts = {
            "back_pane": "Clear glass throws light back into the water; a painted pane does not.",
            "time_zone": "Where the tank stands, such as Europe/Berlin.",
        }

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        sides = {
            "length_cm": ("Length", SIDE),
            "width_cm": ("Width", SIDE),
            "depth_cm": ("Water depth", DEPTH),
        }
        for name, (label, (low, high)) in sides.items():
            self.fields[name] = LengthField(unit=unit, label=label, low_cm=low, high_cm=high)
        self.add_shape(unit)
        self.add_cover_and_window()

    def add_shape(self, unit):
        """Put in the fields that a plain box leaves alone."""
        self.fields["shape"].required = False
        # A radio button of an optional field would offer "none of these".
        self.fields["shape"].choices = Tank.Shape.choices
        self.fields["bow_cm"] = bow_field(unit)
        self.fields["outline_cm"] = corners_field(unit)
        self.fields["braces"] = LinesField(
            unit=unit,
            read=read_braces,
            written=braces_text,
            label="Braces",
            help_text="One a line: from the left, from the front, length, width, and the light it "
            "lets through, such as 0 0 60 5 80%.",
        )

    def add_cover_and_window(self):
        """Put in the fields of what takes light from above and adds it from a side."""
        self.fields["cover_transmission"] = cover_field()
        self.fields["window_side"].label = "Daylight comes in by"
        self.fields["window_side"].choices = [("", "no side"), *Tank.Side.choices]
        self.fields["window_par_umol"] = NumberField(
            label="Its PAR just inside the middle of that pane",
            low=WINDOW_PAR[0],
            high=WINDOW_PAR[1],
            required=False,
        )

    @property
    def more_shows(self):
        """Whether what most tanks leave as it is needs to be seen."""
        return any(name in self.errors for name in ("back_pane", "bottom", "time_zone"))

    @property
    def shape_shows(self):
        """Whether the fields of shape, cover and window need to be seen."""
        wrong = any(name in self.errors for name in SHAPE_FIELDS)
        return wrong or not is_plain(self.instance)

    def clean_shape(self):
        return self.cleaned_data["shape"] or self.instance.shape

    def clean_time_zone(self):
        name = self.cleaned_data["time_zone"].strip()
        validate_time_zone(name)
        return name


class RezoningForm(forms.Form):
    """What a stored tank's new time zone means; `moved_at` is by the clock before the move."""

    zone_means = forms.ChoiceField(
        label="Why does the time zone change?",
        choices=Means.choices,
        widget=forms.RadioSelect,
        error_messages={"required": ASK},
    )
    # For which zone and moment the counts on the page were: others are counted first.
    counted_for = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args, tank, name, **kwargs):
        super().__init__(*args, **kwargs)
        self.tank, self.name = tank, name
        self.fields["moved_at"] = LocalDateTimeField(
            zone=tank.zone,
            label="If it moved: when?",
            required=False,
            help_text=f"By the clock at the old place ({tank.time_zone}). Empty: now.",
        )

    def clean(self):
        data = super().clean()
        if "zone_means" not in data or "moved_at" not in data:
            return data
        means, moved_at = data["zone_means"], data["moved_at"]
        for field, problem in rezoning_errors(self.tank, self.name, means, moved_at).items():
            self.add_error(field, problem)
        if not self.errors and data["counted_for"] != self.counts_for():
            self.add_error("zone_means", "See below what changes, then save again.")
        return data

    def counts_for(self):
        """Return the zone and moment that the page about to be shown counts for."""
        return f"{self.name} {self['moved_at'].value() or ''}".strip()

    def effects(self):
        """Return what each meaning changes, for the moment typed."""
        given = getattr(self, "cleaned_data", {}).get("moved_at")
        return effects_of(self.tank, self.name, given)


class RockForm(WholeModelForm, forms.ModelForm):
    """A rock in a tank: the instance carries the tank."""

    class Meta:
        model = Rock
        fields = [
            "name", "kind", "x_cm", "y_cm", "depth_cm", "length_cm", "width_cm", "height_cm",
        ]  # fmt: skip
        widgets = {"kind": forms.RadioSelect}

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        self.instance.entered_unit = unit
        measures = {
            "x_cm": ("From the left end", INSIDE),
            "y_cm": ("From the front pane", INSIDE),
            "depth_cm": ("Top below the surface", INSIDE),
            "length_cm": ("Length, left to right", ROCK_SIDE),
            "width_cm": ("Width, front to back", ROCK_SIDE),
            "height_cm": ("Height", ROCK_HEIGHT),
        }
        for name, (label, (low, high)) in measures.items():
            self.fields[name] = LengthField(unit=unit, label=label, low_cm=low, high_cm=high)
        self.fields["kind"].required = False
        self.fields["kind"].choices = Rock.Kind.choices

    def clean_kind(self):
        return self.cleaned_data["kind"] or self.instance.kind


class InvitationForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = Invitation
        fields = ["email", "role"]
        labels = {"role": "What they may do"}
        widgets = {"role": forms.RadioSelect}

    def clean_email(self):
        return self.cleaned_data["email"].strip()


class HandOverForm(InvitationForm):
    """Needs an instance that hands the tank over."""

    class Meta:
        model = Invitation
        fields = ["email", "owner_stays"]
        labels = {"owner_stays": "I stay as a co-keeper: I may still see and change it"}


class MembershipForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = Membership
        fields = ["role"]
        labels = {"role": "What they may do"}
        widgets = {"role": forms.RadioSelect}


class DrawnRockForm(WholeModelForm, forms.ModelForm):
    """A rock that stands on the bottom, drawn from above: its outline and how high it is."""

    class Meta:
        model = Rock
        fields = ["x_cm", "y_cm", "length_cm", "width_cm", "height_cm"]

    def __init__(self, *args, tank, unit, **kwargs):
        super().__init__(*args, instance=Rock(tank=tank), **kwargs)
        self.instance.entered_unit = unit
        measures = {
            "x_cm": ("From left", INSIDE),
            "y_cm": ("From front", INSIDE),
            "length_cm": ("Length", ROCK_SIDE),
            "width_cm": ("Width", ROCK_SIDE),
            "height_cm": ("Height from the bottom", (ROCK_SIDE[0], tank.depth_cm)),
        }
        for name, (label, (low, high)) in measures.items():
            self.fields[name] = LengthField(unit=unit, label=label, low_cm=low, high_cm=high)

    @property
    def place_cells(self):
        """The bound fields of its outline."""
        return [self[name] for name in ("x_cm", "y_cm", "length_cm", "width_cm")]

    def clean(self):
        # Where its height is wrong that is marked, and its top is no second error.
        height_cm, deep_cm = self.cleaned_data.get("height_cm"), self.instance.tank.depth_cm
        self.instance.depth_cm = 0.0 if height_cm is None else deep_cm - height_cm
        return super().clean()


class DrawnRocks(
    forms.formset_factory(
        DrawnRockForm,
        extra=1,
        max_num=ROCKS_DRAWN_MAX,
        validate_max=True,
        absolute_max=ROCKS_DRAWN_MAX + 1,
    )
):
    """The rocks drawn on one page; rows left blank are none."""

    @transaction.atomic
    def save(self):
        """Save the Rocks of a valid formset; return how many."""
        drawn = [row for row in self.forms if row.has_changed()]
        for row in drawn:
            row.save()
        return len(drawn)
