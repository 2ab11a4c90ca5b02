"""Forms of meters and of a survey's head; readings have a table of their own."""

import re

from django import forms

from apps.accounts.models import User
from apps.common.model_forms import WholeModelForm
from apps.common.moments import LocalDateTimeField
from apps.common.numbers import UnreadableNumber, parse_number, shorten
from apps.common.units import NumberField
from apps.surveys.meter_models import ANY_FACTOR, IMMERSION, METER_FACTOR, UNCERTAINTY
from apps.surveys.models import HOURS, LEVEL, Meter, MeterCheck, Survey

# More channels than any fixture offers its keeper.
CHANNELS_MOST = 20
TOO_MANY_LEVELS = f"At most {CHANNELS_MOST} of them, please."
LEVEL_NAME_CHARS = 40
NO_LEVEL = "“{}” is not a name and its percent, such as “blue 80”."


class MeterForm(WholeModelForm, forms.ModelForm):
    correction_factor = NumberField(
        label="Multiply readings by",
        low=ANY_FACTOR[0],
        high=ANY_FACTOR[1],
        help_text="Its calibration; 1 if it needs none. The factor for water is under More.",
    )
    immersion_factor = NumberField(
        required=False,
        label="Immersion factor",
        low=IMMERSION[0],
        high=IMMERSION[1],
        help_text="A sensor calibrated in air reads low in water. Its maker states by how much: "
        "reading × factor is the light there. 1 if none is stated.",
    )
    uncertainty_percent = NumberField(
        required=False,
        label="Its scale may be off by",
        low=UNCERTAINTY[0],
        high=UNCERTAINTY[1],
        help_text="One standard deviation. Left empty, ranges are for what this meter would read, "
        "not for true PAR.",
    )
    corrects_for_water = forms.BooleanField(
        required=False, label="The meter shows values with the immersion factor already in them"
    )

    follows_checks = forms.BooleanField(
        required=False,
        label="Each check counts from its day on",
        help_text="Surveys then take the factor of their own day, also those already made. Left "
        "off, all checks count together.",
    )

    class Meta:
        model = Meter
        fields = [
            "label", "kind", "correction_factor", "immersion_factor", "corrects_for_water",
            "uncertainty_percent", "uncertainty_from", "checked_on", "follows_checks",
        ]  # fmt: skip
        labels = {"label": "What you call it", "checked_on": "Last checked against another on"}
        widgets = {"checked_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["uncertainty_from"].label = "That number is"
        if self.instance.club_id:
            # A club's is checked by one and read by many: its history always counts by date.
            del self.fields["follows_checks"]
        if self.instance.pk is None:
            # A meter made now begins with what is usual; an older one keeps what it has.
            self.initial["uncertainty_percent"] = Meter.USUAL_PERCENT[Meter.Kind.QUANTUM]
            self.initial["uncertainty_from"] = Meter.UncertaintyFrom.USUAL

    @property
    def says_more(self) -> bool:
        """Whether what is folded holds something to see: other than usual, or wrong."""
        usual = {
            "immersion_factor": (None, "", 1, 1.0, "1"),
            "corrects_for_water": (False, None, ""),
            "uncertainty_from": (Meter.UncertaintyFrom.USUAL, "", None),
            "checked_on": (None, ""),
            "follows_checks": (False, None, ""),
        }
        shown = [name for name in usual if name in self.fields]
        unusual = any(self[name].value() not in usual[name] for name in shown)
        return unusual or any(self[name].errors for name in (*shown, "uncertainty_percent"))

    @property
    def usual_percent(self) -> dict[str, float]:
        """What is usual by kind, for the script that follows the kind chosen [%]."""
        return {str(kind): percent for kind, percent in Meter.USUAL_PERCENT.items()}

    def clean_immersion_factor(self) -> float:
        typed = self.cleaned_data["immersion_factor"]
        return 1.0 if typed is None else typed

    def clean(self) -> None:
        super().clean()
        typed, kind = self.cleaned_data.get("uncertainty_percent"), self.cleaned_data.get("kind")
        is_usual = self.cleaned_data.get("uncertainty_from") == Meter.UncertaintyFrom.USUAL
        if is_usual and typed in Meter.USUAL_PERCENT.values():
            # Filled in for another kind than was chosen then.
            self.cleaned_data["uncertainty_percent"] = Meter.USUAL_PERCENT.get(kind)


class PairsField(forms.CharField):
    """Pairs of readings, one a line, such as "182 190": cleans to [[182.0, 190.0], ...]."""

    widget = forms.Textarea(attrs={"rows": 5, "inputmode": "decimal"})

    def prepare_value(self, value: object) -> object:
        if not isinstance(value, list):
            return value
        return "\n".join(f"{own:g} {other:g}" for own, other in value)

    def to_python(self, value: object) -> list[list[float]]:
        pairs = []
        for line in filter(None, map(str.strip, re.split(r"[;\n]", str(value or "")))):
            parts = line.replace("\t", " ").split()
            try:
                numbers = [parse_number(part) for part in parts]
            except UnreadableNumber:
                numbers = []
            if len(numbers) != 2:
                raise forms.ValidationError(
                    f"“{shorten(line)}” is not two readings, such as “182 190”."
                )
            pairs.append(numbers)
        return pairs


class MeterCheckForm(WholeModelForm, forms.ModelForm):
    # The model says how many it takes.
    pairs = PairsField(
        required=False,
        label="What both showed",
        help_text="One pair a line, this meter first: “182 190”. Both at the same place under the "
        "same light, as they show it, before any factor.",
    )
    reference_percent = NumberField(
        required=False,
        label="The reference may be off by",
        low=UNCERTAINTY[0],
        high=UNCERTAINTY[1],
        help_text="One standard deviation of its own, as its certificate or its keeper states it.",
    )

    class Meta:
        model = MeterCheck
        fields = ["checked_on", "other", "reference", "reference_percent", "pairs"]
        labels = {"checked_on": "When", "reference": "Or a reference"}
        widgets = {"checked_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        meter = self.instance.meter
        self.fields["other"].queryset = Meter.objects.kept_with(meter).exclude(pk=meter.pk)
        self.fields["other"].empty_label = "none"
        self.fields["reference"].help_text = "Such as a newly calibrated sensor of the club."


class LevelsField(forms.CharField):
    """Names with percents, such as "blue 80, white 40": cleans to {name: percent}."""

    def prepare_value(self, value: object) -> object:
        if not isinstance(value, dict):
            return value
        return ", ".join(f"{name} {percent:g}" for name, percent in value.items())

    def to_python(self, value: object) -> dict[str, float]:
        if isinstance(value, dict):
            return value
        result: dict[str, float] = {}
        parts = re.split(r"[;\n]|,(?!\d)", str(value or ""))
        for part in filter(None, map(str.strip, parts)):
            name, _, number = part.removesuffix("%").strip().rpartition(" ")
            try:
                percent = parse_number(number)
            except UnreadableNumber:
                percent = -1.0
            if not name or len(name) > LEVEL_NAME_CHARS or not 0 <= percent <= LEVEL[1]:
                raise forms.ValidationError(NO_LEVEL.format(shorten(part)))
            result[name.strip(" :=")] = percent
        if len(result) > CHANNELS_MOST:
            raise forms.ValidationError(TOO_MANY_LEVELS)
        return result


def name_with_club(meter: Meter) -> str:
    """Return a meter's name, with the club's behind it where it is one's."""
    return f"{meter.label} · {meter.club}" if meter.club else meter.label


# What the fields folded away of an ordinary survey say.
USUAL = {
    "level_percent": "100", "levels": "", "pumps": "", "lid": "", "hours_on": "", "channel": "",
    "light_note": "", "spectral_factor": "1", "notes": "",
}  # fmt: skip


def text_of(value: object) -> str:
    """Return what stands in a field as a text, "" for nothing."""
    if value is None or value == {}:
        return ""
    return f"{value:g}" if isinstance(value, int | float) else str(value).strip()


class SurveyForm(WholeModelForm, forms.ModelForm):
    take_factor = forms.BooleanField(
        required=False,
        label="Correct these readings with the meter's present factor",
    )

    class Meta:
        model = Survey
        fields = [
            "taken_at", "meter", "spectral_factor", "level_percent", "levels", "pumps", "lid",
            "hours_on", "channel", "light_note", "notes",
        ]  # fmt: skip
        widgets = {"notes": forms.Textarea(attrs={"rows": 4})}

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self._light_fields()
        self._channel_fields()
        self._meter_fields(user)

    def _light_fields(self) -> None:
        """When it was, and how bright the lights were."""
        tank = self.instance.tank
        self.fields["taken_at"] = LocalDateTimeField(
            zone=tank.zone, label="When", help_text=f"By the clock at the tank ({tank.time_zone})."
        )
        self.fields["level_percent"] = NumberField(
            label="How bright, % of the day’s peak",
            low=LEVEL[0],
            high=LEVEL[1],
            words=("%",),
            help_text="100 if the lights were at their usual brightest. At 50 %, readings are "
            "doubled to give the peak.",
        )
        self.fields["hours_on"] = NumberField(
            required=False, label="Hours since lights-on", low=HOURS[0], high=HOURS[1], words=("h",)
        )
        self.fields["light_note"].help_text = "Anything else, such as which lamp was on."
        for name in ("pumps", "lid"):
            self.fields[name].choices = [("", "not noted"), *Survey.Switch.choices]

    def _channel_fields(self) -> None:
        """The level of each channel, and whether one burned alone."""
        self.fields["levels"] = LevelsField(
            required=False,
            label="Level of each channel or lamp, %",
            help_text="Where you know them: “blue 80, white 40”.",
        )
        self.fields["channel"].label = "Only this channel was on"
        self.fields["channel"].help_text = (
            "Leave empty if all channels were on. Surveys of single channels add up to any mix; "
            "the tank’s own light map leaves them out."
        )

    def _meter_fields(self, user: User) -> None:
        """The meter, and what its readings are multiplied by."""
        self.fields["spectral_factor"] = NumberField(
            required=False,
            label="Correct for this light’s colour by",
            low=METER_FACTOR[0],
            high=METER_FACTOR[1],
            help_text="1 unless the meter’s maker states a factor for such a spectrum.",
        )
        # A friend's meter stays pickable on the survey it was used for, and nowhere else.
        own = Meter.objects.usable_by(user)
        used = Meter.objects.filter(pk=self.instance.meter_id)
        self.fields["meter"].queryset = (own | used).select_related("club")
        self.fields["meter"].label_from_instance = name_with_club
        self.fields["meter"].empty_label = "none named"
        if self.instance.pk is None and self.instance.meter:
            # Made a moment ago: no older draft of this form chooses another.
            self.fields["meter"].widget.attrs["data-keep-fresh"] = ""
        if self.instance.pk is None or not self.instance.factor_is_stale():
            del self.fields["take_factor"]

    @property
    def is_unusual(self) -> bool:
        """Whether anything is said, or wrong, beyond when and with which meter it was read."""
        wrong = not self.errors.keys().isdisjoint(USUAL)
        return wrong or any(text_of(self[name].value()) != usual for name, usual in USUAL.items())

    def clean_spectral_factor(self) -> float:
        typed = self.cleaned_data["spectral_factor"]
        return 1.0 if typed is None else typed

    def clean_levels(self) -> dict[str, float]:
        return self.cleaned_data["levels"] or {}

    def clean_channel(self) -> str:
        return " ".join(self.cleaned_data["channel"].split())

    def _post_clean(self) -> None:
        """Set what the readings are multiplied by, once all it rests on is sound."""
        super()._post_clean()
        if self.errors:
            return
        self.set_factor()
        low, high = ANY_FACTOR
        if not low <= self.instance.correction_factor <= high:
            together = f"With the meter’s own factor this is {self.instance.correction_factor:.3g}"
            self.add_error("spectral_factor", f"{together}: {low:g} to {high:g}, please.")

    def set_factor(self) -> None:
        colour, before = self.instance.spectral_factor, self.initial.get("spectral_factor") or 1.0
        is_new, meter = self.instance.pk is None, self.instance.meter
        by_day = meter is not None and meter.follows_checks and "taken_at" in self.changed_data
        chosen = "meter" in self.changed_data or self.cleaned_data.get("take_factor")
        if is_new or chosen or by_day:
            self.instance.take_meter_factor()
        elif colour != before:
            # The meter's part stays as this survey took it.
            self.instance.correction_factor *= colour / before
