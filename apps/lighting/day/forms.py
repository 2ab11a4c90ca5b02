"""Forms of a day curve: its points as clock times and levels, and what shapes them."""

import re

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from apps.common.model_forms import WholeModelForm
from apps.common.units import NumberField
from apps.lighting.day_models import LEVEL, DayCurve
from apps.lighting.group_share import share_to_keep
from apps.photics import limits
from apps.photics.day.curve import MINUTES_A_DAY, DayCurveError, unfold

PREFIX = "point"
BLANK_ROWS = 2
PERCENT = ("%", "percent")
_CLOCK = re.compile(r"^(?P<hour>\d{1,2})(?:[:.h](?P<minute>\d{2}))?\s*(?P<half>am|pm)?$")
# A new curve begins as an even day, to be changed.
USUAL_POINTS = [[540, 0], [660, 100], [1140, 100], [1260, 0]]
# A shifted or stretched time is kept to this share of a minute.
MINUTE_PLACES = 4


def parse_clock(text):
    """Return the minute after midnight a person meant: "8", "8:30", "20.15", "8:30 pm"."""
    match = _CLOCK.match(text.strip().lower().replace(" ", ""))
    if not match:
        raise ValidationError("Write the time like 8:30 or 20:15.")
    hour, minute = int(match["hour"]), int(match["minute"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            raise ValidationError("With am or pm the hour is 1 to 12.")
        hour = hour % 12 + (12 if match["half"] == "pm" else 0)
    if minute > 59 or 60 * hour + minute > MINUTES_A_DAY:
        raise ValidationError("A time lies between 00:00 and 24:00.")
    return float(60 * hour + minute)


def clock_text(minute):
    """Return a clock time for a field, 24:00 at the end of the day, seconds where needed."""
    whole = round(minute)
    if abs(whole - minute) < 10**-MINUTE_PLACES:
        return f"{whole // 60:02d}:{whole % 60:02d}"
    return f"{minute // 60:02.0f}:{minute % 60:05.2f}"


class ClockField(forms.Field):
    """A clock time; cleans to minutes after midnight."""

    widget = forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"})

    def prepare_value(self, value):
        return clock_text(value) if isinstance(value, int | float) else value

    def to_python(self, value):
        return None if value in (None, "") else parse_clock(value)


class PointForm(forms.Form):
    """One point of a day curve."""

    at = ClockField(label="Time")
    level = NumberField(label="Level", words=PERCENT, low=LEVEL[0], high=LEVEL[1])


class PointRows(
    forms.formset_factory(
        PointForm,
        extra=BLANK_ROWS,
        can_delete=True,
        max_num=limits.DAY_POINTS_MAX,
        validate_max=True,
        absolute_max=limits.DAY_POINTS_MAX + BLANK_ROWS,
    )
):
    """The points of a day in its order; a row written at the end finds its place by its time."""

    def add_fields(self, form, index):
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Delete"
        # A row cleared by hand is a point taken out.
        form.empty_permitted = True

    def points(self):
        """Return [[minute, level in percent], ...] of rows that are valid."""
        kept = [
            form.cleaned_data
            for form in self.forms
            if form.cleaned_data.get("at") is not None and not form.cleaned_data.get("DELETE")
        ]
        return in_order([[row["at"], row["level"]] for row in kept])


def in_order(points):
    """Return points as typed when they already ascend, else by time from the first row on."""
    try:
        unfold(points)
    except DayCurveError:
        first = points[0][0]
        return sorted(points, key=lambda p: p[0] - first + (MINUTES_A_DAY if p[0] < first else 0))
    return points


def point_rows(points, *, data=None):
    """Return the PointRows of a curve, or bound to the data of a POST."""
    if data is not None:
        return PointRows(data, prefix=PREFIX)
    initial = [{"at": minute, "level": level} for minute, level in points]
    return PointRows(prefix=PREFIX, initial=initial)


class DayCurveForm(WholeModelForm, forms.ModelForm):
    """What a day curve is called and for which light; its points stand in PointRows."""

    also_saves = ("points",)

    class Meta:
        model = DayCurve
        fields = ["name", "zone", "group", "share_percent", "is_moonlight"]
        labels = {
            "name": "What you call it",
            "zone": "Shines on",
            "group": "Channel group",
            "is_moonlight": "Moonlight: it may burn all night, at 5 % or below",
        }
        help_texts = {
            "group": "Such as blue, or blue + violet. Blank: all channels follow this curve."
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["share_percent"] = NumberField(
            label="Its share of PAR, all channels at full level",
            words=PERCENT,
            low=LEVEL[0],
            high=LEVEL[1],
            required=False,
            help_text="Blank takes it from the lamps’ channels of that name, as they are set.",
        )

    def clean_group(self):
        return self.cleaned_data["group"].strip()

    def clean(self):
        cleaned = super().clean()
        needed = ("zone", "group", "share_percent")
        if all(name in cleaned for name in needed):
            stated = {name: cleaned[name] for name in needed}
            try:
                kept = share_to_keep(self.instance.tank, **stated, now=timezone.now())
            except ValidationError as problem:
                self.add_error(None, problem)
            else:
                cleaned["share_percent"] = kept
        return cleaned


class ShapeForm(forms.Form):
    """What to do to the points: each field belongs to one button."""

    shift = NumberField(label="Later by", words=("min", "minutes"), low=-1440, high=1440,
                        required=False)  # fmt: skip
    stretch = NumberField(label="As long", words=PERCENT, low=5, high=500, required=False)
    wanted_dli = NumberField(
        label="Wanted daily light (DLI)",
        words=("mol", "mol/m²"),
        low=0.01,
        high=200,
        required=False,
    )
    at_par = NumberField(
        label="PAR there at full level", low=0.1, high=limits.PAR_MAX_UMOL, required=False
    )
    spot = forms.ChoiceField(label="At", required=False)

    def __init__(self, *args, spots=(), **kwargs):
        super().__init__(*args, **kwargs)
        names = [(str(i), f"{s.name}: {s.par_full_umol:.0f}") for i, s in enumerate(spots)]
        self.fields["spot"].choices = [("", "the PAR typed beside"), *names]
