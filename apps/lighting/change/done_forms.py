"""The short form of a light change: what was done, to which lamps, by one number."""

from django import forms
from django.core.exceptions import ValidationError

from apps.common.moments import LocalDateTimeField
from apps.common.units import LengthField, NumberField, format_length, percent_words
from apps.lighting.change.done import Done, OutOfReach, What, lamps_meant, tanks_sharing
from apps.lighting.change.rehanging import InvalidRig
from apps.lighting.change.rig_forms import DEGREE_WORDS, PERCENT_WORDS, FixtureChoice
from apps.lighting.change.summary import names_of
from apps.lighting.fixture_models import BEAM, Fixture
from apps.lighting.models import FACTOR, HEIGHT, LEVEL, LightChange

ALL_LAMPS = ""
# Where the keeper's number stands: that is the field a wrong one is marked at.
NUMBERS = {
    What.LOWERED: ("by_cm",),
    What.RAISED: ("by_cm",),
    What.LEVEL: ("percent",),
    What.CLEANED: ("percent",),
    What.LAMP: ("fixture", "percent"),
    What.LENS: ("beam_deg",),
    What.MOVED: ("along_cm", "back_cm"),
}
# Fields of a HungFixture whose errors belong to another field of this form.
MARKED_AT = {"x_cm": "along_cm", "y_cm": "back_cm"}


class DoneForm(forms.Form):
    """Times are those of the tank: call it with the tank's time zone in force."""

    happened_at = LocalDateTimeField(label="When")
    summary = forms.CharField(
        label="In your words",
        max_length=LightChange._meta.get_field("summary").max_length,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, data=None, *, what, tank, rows, user, **kwargs):
        super().__init__(data, **kwargs)
        self.what, self.tank, self.rows = what, tank, rows
        unit = user.units
        self.fields |= number_fields(what, tank, unit)
        if what == What.LAMP:
            self.fields["fixture"] = FixtureChoice(
                Fixture.objects.owned_by(user),
                blank="the same kind again, such as new tubes",
                required=False,
            )
            self.fields["fixture"].label = "Which lamp is it now"
        if len(rows) > 1 and what != What.CLEANED:
            self.fields["number"] = which_field(rows, unit)
        sharing = tanks_sharing(tank, rows, user)
        if sharing:
            self.fields["also_over"] = forms.ModelMultipleChoiceField(
                type(tank).objects.filter(pk__in=[one.pk for one in sharing]),
                label="The same lamp lights other tanks too: enter it for",
                required=False,
                widget=forms.CheckboxSelectMultiple,
            )
        self.order_fields(["number", *NUMBERS[what], "also_over", "happened_at", "summary"])

    @property
    def number_cells(self):
        """The bound fields of what was done, with the unit behind each."""
        units = {"percent": "%", "beam_deg": "°"}
        names = [name for name in ("number", *NUMBERS[self.what]) if name in self.fields]
        lengths = ("by_cm", "along_cm", "back_cm")
        unit = next((self.fields[n].unit for n in lengths if n in self.fields), "")
        return [(self[n], unit if n in lengths else units.get(n, "")) for n in names]

    @property
    def opens_more(self):
        """Whether the moment and the words are shown at once: wrong, or typed."""
        return any(name in self.errors for name in ("happened_at", "summary")) or bool(
            self["summary"].value()
        )

    def clean(self):
        cleaned = super().clean()
        moved = [cleaned.get(name) for name in ("along_cm", "back_cm")]
        if self.what == What.MOVED and not self.errors and not any(moved):
            raise ValidationError("Say how far, along the tank or front to back.")
        return cleaned

    def done(self):
        """Return the Done that the valid form says."""
        said = self.cleaned_data
        return Done(
            what=self.what,
            number=int(said["number"]) if said.get("number") else None,
            by_cm=said.get("by_cm") or 0.0,
            percent=said.get("percent"),
            beam_deg=said.get("beam_deg"),
            along_cm=said.get("along_cm") or 0.0,
            back_cm=said.get("back_cm") or 0.0,
            fixture=said.get("fixture"),
        )

    def mark(self, problem):
        """Show a ValidationError of saving at the fields it belongs to."""
        own = NUMBERS[self.what][0]
        if isinstance(problem, OutOfReach):
            self.add_error(own, problem.words(self.fields[own].unit))
        elif isinstance(problem, InvalidRig):
            names = names_of(self.rows)
            lamps = lamps_meant(self.rows, self.done().number)
            for index, errors in problem.by_row.items():
                for name, sentences in errors.items():
                    place = MARKED_AT.get(name, own)
                    self.add_error(
                        place if place in self.fields else own,
                        [f"{names[lamps[index].number]}: {text}" for text in sentences],
                    )
            if problem.whole or problem.down:
                self.add_error(None, [*problem.whole, *problem.down])
        elif hasattr(problem, "error_dict"):
            for name, sentences in problem.message_dict.items():
                self.add_error(name if name in self.fields else own, sentences)
        else:
            self.add_error(own, problem.messages)


def number_fields(what, tank, unit):
    """Return the fields of the numbers that something done takes, by name."""
    if what in (What.LOWERED, What.RAISED):
        most = HEIGHT[1] - HEIGHT[0]
        return {"by_cm": LengthField(label=f"{what.label} by", unit=unit, low_cm=0, high_cm=most)}
    if what == What.MOVED:
        return {
            name: LengthField(label=label, unit=unit, low_cm=-side, high_cm=side, required=False)
            for name, label, side in (
                ("along_cm", "To the right by (left: −)", 2 * tank.length_cm),
                ("back_cm", "To the back by (front: −)", 2 * tank.width_cm),
            )
        }
    if what == What.LENS:
        return {
            "beam_deg": NumberField(
                label="Beam angle of the lens", words=DEGREE_WORDS, low=BEAM[0], high=BEAM[1]
            )
        }
    return {"percent": percent_field(what)}


def percent_field(what):
    """Return the field of a percentage: a level, or how much brighter it got."""
    if what == What.CLEANED:
        return NumberField(
            label="Brighter by",
            words=PERCENT_WORDS,
            low=0,
            high=100 * (FACTOR[1] - 1),
            required=False,
            help_text="If you know it, such as from two readings. Else leave it empty: "
            "the map is then less sure until you read again.",
        )
    label = "Turned to" if what == What.LEVEL else "Its level"
    return NumberField(
        label=label, words=PERCENT_WORDS, low=LEVEL[0], high=LEVEL[1], required=what == What.LEVEL
    )


def which_field(rows, unit):
    """Return the choice between all lamps over the display and each that hangs there."""
    names, all_rows = names_of(rows), lamps_meant(rows, None)
    each = [
        (row.number, f"{names[row.number]}: {format_length(row.height_cm, unit)} {unit} above "
         f"water, {percent_words(row.level_percent, 'g')}")
        for row in rows
    ]  # fmt: skip
    whole = "All lamps" if len(all_rows) == len(rows) else "All lamps over the display"
    return forms.ChoiceField(
        label="Which lamps", choices=[(ALL_LAMPS, f"{whole} ({len(all_rows)})"), *each],
        required=False,
    )  # fmt: skip
