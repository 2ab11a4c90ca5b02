"""The forms of a layout's question, part by part: box, fixtures, limits."""

from collections.abc import Callable, Mapping

from django import forms

from apps.common.units import LengthField, NumberField
from apps.lighting.models import HEIGHT
from apps.photics import limits
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.ground.usual_bands import USUAL_DAY_HOURS
from apps.photics.layout.advice.spectrum_wish import SpectrumWish
from apps.photics.layout.question import Limits, Question
from apps.photics.layout.shortlist import choices
from apps.photics.limits import PRICE_MOST
from apps.planning.layout.fixtures.candidate_forms import WATT_WORDS
from apps.planning.layout.forbidden import forbidding
from apps.planning.models import LETTERHEAD_MAX
from apps.tanks.models import DEPTH, SIDE, Tank
from apps.tanks.shape.checking import outline_errors
from apps.tanks.shape.fields import bow_field, corners_field, cover_field

# Fixtures that hang at most: chosen, because a search tries all of them against each other.
COUNT_MOST, FILL_MOST = 8, 2
# In any currency: chosen far above what anyone pays.
KWH_MOST = 1000.0
# Combinations tried: chosen, because a search of more takes minutes.
CHOICES_MOST = 240
# Chosen as lights are usually hung, splash below and spill above [cm].
ORDINARY_HEIGHTS_CM = (15.0, 40.0)


class BoxForm(forms.Form):
    """The measures and shape of a tank that is only planned yet."""

    back_pane = forms.ChoiceField(label="Back pane", choices=Tank.BackPane.choices)
    shape = forms.ChoiceField(
        label="Shape", choices=Tank.Shape.choices, required=False, widget=forms.RadioSelect
    )

    def __init__(self, *args: object, unit: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name, label, (low, high) in (
            ("length_cm", "Length, left to right", SIDE),
            ("width_cm", "Width, front to back", SIDE),
            ("depth_cm", "Depth of the water", DEPTH),
        ):
            self.fields[name] = LengthField(unit=unit, label=label, low_cm=low, high_cm=high)
        self.order_fields(["length_cm", "width_cm", "depth_cm", "back_pane"])
        self.fields["bow_cm"] = bow_field(unit)
        self.fields["outline_cm"] = corners_field(unit)
        self.fields["cover_transmission"] = cover_field()

    @property
    def shape_shows(self) -> bool:
        """Whether the fields that a plain box leaves alone need to be seen."""
        names = ("shape", "bow_cm", "outline_cm", "cover_transmission")
        shape, cover = self["shape"].value(), self["cover_transmission"].value()
        plain = shape in (None, "", Tank.Shape.BOX) and cover in (None, "", 1.0, "100")
        return not plain or any(name in self.errors for name in names)

    def clean(self) -> dict[str, object]:
        data = super().clean()
        if not self.errors:
            for name, problem in outline_errors(wished_tank(data)).items():
                self.add_error(name, problem)
        return data

    def scene(self) -> SceneTank:
        """Return the scene Tank of valid measures."""
        return wished_tank(self.cleaned_data).scene()


def wished_tank(data: Mapping[str, object]) -> Tank:
    """Return an unsaved Tank with the values of a BoxForm, or those it begins with."""
    return Tank(
        length_cm=data["length_cm"],
        width_cm=data["width_cm"],
        depth_cm=data["depth_cm"],
        back_pane=data["back_pane"],
        shape=data.get("shape") or Tank.Shape.BOX,
        bow_cm=data.get("bow_cm"),
        outline_cm=data.get("outline_cm") or [],
        cover_transmission=data.get("cover_transmission") or 1.0,
    )


# What a plan is called and whom it is for, by the fields of NameForm.
WORDS = ("name", "for_whom", "by_whom", "letterhead", "notes")
FOR_OTHERS = ("for_whom", "by_whom", "letterhead")
# The thirds of PAR that a wish for colour may bound.
COLOURS = ("blue", "green", "red")
COLOUR_ENDS = [f"{colour}_{end}" for colour in COLOURS for end in ("from", "to")]
# What bounds the place of the lamps, the money and the power.
BOUNDS = ("x_from", "x_to", "y_from", "y_to", "budget", "watts", "price_kwh")


class LimitsForm(forms.Form):
    """What hanging, money and power allow."""

    count = forms.IntegerField(label="Lamps, at most", min_value=1, max_value=COUNT_MOST)
    fill_count = forms.IntegerField(
        label="Tubes or bars beside them, at most",
        min_value=0,
        max_value=FILL_MOST,
        help_text="To soften shadows; choose a tube or bar above too.",
    )
    canopy = forms.BooleanField(
        label="A canopy stands on the rim: nothing may reach past it", required=False
    )

    def __init__(self, *args: object, box: SceneTank | None, unit: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.box = box
        for name in ("count", "fill_count"):
            self.fields[name].widget.attrs["inputmode"] = "numeric"
        low, high = HEIGHT[0] + 1.0, HEIGHT[1]
        for name, label in (("from", "Lit side above the water, from"), ("to", "to")):
            self.fields[f"height_{name}"] = LengthField(
                label=label, unit=unit, low_cm=low, high_cm=high
            )
        for axis, words, side in (("x", "the left", "length_cm"), ("y", "the front", "width_cm")):
            high = getattr(box, side) if box else limits.TANK_SIDE_MAX_CM
            for name, label in (("from", f"Middles from {words}, from"), ("to", "to")):
                self.fields[f"{axis}_{name}"] = LengthField(
                    label=label, unit=unit, low_cm=0, high_cm=high, required=False
                )
        self.fields["budget"] = NumberField(
            label="Money for what is missing", low=0, high=PRICE_MOST, required=False
        )
        self.fields["watts"] = NumberField(
            label="Power of all together, W", words=WATT_WORDS, low=0, high=limits.WATTS_MAX,
            required=False,
        )  # fmt: skip
        self.fields["day_hours"] = NumberField(
            label="Full light a day, h", words=("h", "hours"), low=0, high=limits.DAY_HOURS_MAX
        )
        self.fields["price_kwh"] = NumberField(
            label="Price of a kWh", required=False, low=0, high=KWH_MOST
        )
        for colour in COLOURS:
            for end in ("from", "to"):
                self.fields[f"{colour}_{end}"] = NumberField(
                    label=f"{colour.capitalize()}, % of PAR, from" if end == "from" else "to",
                    required=False, low=0, high=100, words=("%",),
                )  # fmt: skip

    @staticmethod
    def usual() -> dict[str, object]:
        """Return the limits a question starts with."""
        low, high = ORDINARY_HEIGHTS_CM
        return {"count": 4, "fill_count": 0, "height_from": low, "height_to": high,
                "day_hours": USUAL_DAY_HOURS}  # fmt: skip

    def clean(self) -> dict[str, object]:
        data = super().clean()
        for axis in ("height", "x", "y"):
            low, high = data.get(f"{axis}_from"), data.get(f"{axis}_to")
            if None not in (low, high) and low > high:
                self.add_error(f"{axis}_to", "This end must be above the other.")
        if self.errors.keys().isdisjoint(COLOUR_ENDS):
            try:
                self.wish()
            except ValueError as problem:
                self.add_error("blue_from", str(problem))
        return data

    @property
    def bounds_show(self) -> bool:
        """Whether where it can hang, money or power is bounded, or such a bound is wrong."""
        typed = any(self[name].value() not in (None, "") for name in BOUNDS)
        return typed or not self.errors.keys().isdisjoint(BOUNDS)

    @property
    def wishes_colour(self) -> bool:
        """Whether anything is typed, or wrong, of the colour wished for."""
        return any(
            self[name].value() not in (None, "") or self[name].errors for name in COLOUR_ENDS
        )

    def wish(self) -> SpectrumWish | None:
        """Return the colour wished for, None for any. Raises ValueError where none can be it."""
        pairs = {}
        for colour in COLOURS:
            low, high = (self.cleaned_data.get(f"{colour}_{end}") for end in ("from", "to"))
            if low is not None or high is not None:
                ends = (0.0 if low is None else low / 100, 1.0 if high is None else high / 100)
                pairs[colour] = ends
        return SpectrumWish(**pairs) if pairs else None

    def limits(self) -> Limits:
        """Return the Limits of a valid form."""
        if self.box is None:
            raise ValueError("Limits lie over a box of water.")
        data, ranges = self.cleaned_data, {}
        for axis, side in (("x", self.box.length_cm), ("y", self.box.width_cm)):
            low, high = data[f"{axis}_from"], data[f"{axis}_to"]
            ranges[f"{axis}_cm"] = (0.0 if low is None else low, side if high is None else high)
        return Limits(
            height_cm=(data["height_from"], data["height_to"]),
            **ranges,
            count=data["count"],
            fill_count=data["fill_count"],
            budget=data["budget"],
            watts=data["watts"],
            canopy=data["canopy"],
        )


def too_much(question: Question, length: Callable[[float], str]) -> str:
    """Return a sentence when a question has nothing to try or far too much, else ''.

    `length` words a length [cm] in the reader's unit.
    """
    many = len(choices(question))
    if many == 0:
        why = forbidding(question, length).items()
        each = [f"{name}: {' and '.join(sentences)}." for name, sentences in why]
        return " ".join(["No lamp fits these limits.", *each])
    if many > CHOICES_MOST:
        return (
            f"That makes {many} combinations of lamp, lens and count; {CHOICES_MOST} is the most. "
            "Delete a lens or a lamp, or lower the counts."
        )
    return ""


class NameForm(forms.Form):
    """What a plan is called, and for whom it is by whom."""

    name = forms.CharField(label="Name of the plan", max_length=80)
    for_whom = forms.CharField(label="For whom", max_length=80, required=False)
    by_whom = forms.CharField(label="By whom", max_length=80, required=False)
    letterhead = forms.CharField(
        label="Your letterhead",
        required=False,
        max_length=LETTERHEAD_MAX,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Printed at the head of the plan: your name, address, telephone.",
    )
    notes = forms.CharField(
        label="Notes", required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
    )

    @property
    def letterhead_shows(self) -> bool:
        """Whether somebody is named for whom it is, or what a plan for others says is wrong."""
        wrong = not self.errors.keys().isdisjoint(FOR_OTHERS)
        return wrong or bool(self["for_whom"].value())
