"""Forms of a keeper's fixtures, and the rows of what hangs above a tank."""

from django import forms
from django.core.exceptions import ValidationError

from apps.common.model_forms import WholeModelForm
from apps.common.numbers import whole_number
from apps.common.units import LengthField, NumberField
from apps.lighting.change.channel_level_forms import (
    CELL,
    add_level_fields,
    level_cells,
    levels_said,
)
from apps.lighting.change.rehanging import (
    fixtures_for,
    rig_to_save,
    rows_before,
    stated_of,
    take_what_it_is,
)
from apps.lighting.fixture_models import (
    BEAM,
    EFFICACY,
    LIT_SIDE,
    PPF,
    WATTS,
    Emitter,
    Fixture,
    Lamp,
)
from apps.lighting.models import HEIGHT, LEVEL, LOSS, TILT, TURN, HungFixture, Optic
from apps.lighting.optic_models import ANGLE_NEEDED
from apps.photics.limits import FIXTURES_MAX

PREFIX = "hung"
# Blank rows at the end; "More rows" adds as many again.
BLANK_ROWS = 2
DEGREE_WORDS = ("°", "deg", "degrees")
PERCENT_WORDS = ("%", "percent")
# What a row shows shortened: a field left alone must not be saved as its own rounding.
KEPT_AS_SHOWN = (
    "x_cm", "y_cm", "height_cm", "turn_deg", "tilt_deg", "beam_deg", "level_percent",
    "loss_percent",
)  # fmt: skip


class FixtureForm(WholeModelForm, forms.ModelForm):
    """One fixture, described by what it is; its place over a tank is entered elsewhere."""

    correct_hung = forms.BooleanField(
        label="Correct it in every tank it lights",
        help_text="Also in the past; maps are worked out again. Unticked, lamps in use stay as "
        "they are.",
        required=False,
    )

    class Meta:
        model = Fixture
        fields = [
            "name", "kind", "lit_length_cm", "lit_width_cm", "optic", "beam_deg", "emitter",
            "lamp", "watts", "ppf_umol_s", "efficacy_umol_j", "zone",
        ]  # fmt: skip
        labels = {"name": "What you call it", "optic": "Lens", "zone": "Shines on"}
        help_texts = {
            "optic": "Degrees of named lenses are typical values.",
            "emitter": "How sharp the beam’s edge is. Without it, forecasts after a new lens are "
            "less sure.",
        }

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["emitter"].choices = [("", "not said"), *Emitter.choices]
        self.fields["lamp"].choices = [("", "not said"), *Lamp.choices]
        self.fields["lamp"].help_text = "If not said: LED, or tubes for a tube light."
        side = {"unit": unit, "low_cm": LIT_SIDE[0], "high_cm": LIT_SIDE[1]}
        self.fields["lit_length_cm"] = LengthField(
            label="Lit length",
            help_text="The part that shines, along the tank.",
            **side,
        )
        self.fields["lit_width_cm"] = LengthField(
            label="Lit width", help_text="Front to back.", **side
        )
        self.fields["beam_deg"] = NumberField(
            label="Beam angle",
            words=DEGREE_WORDS,
            low=BEAM[0],
            high=BEAM[1],
            help_text="Full angle at half strength. Only for a lens given as a beam angle.",
            required=False,
        )
        self.add_ratings()
        if not self.instance.measured:
            self.fields["optic"].choices = [c for c in Optic.choices if c[0] != Optic.FILE]

    def add_ratings(self):
        """Add the fields of what its maker states of its output."""
        self.fields["watts"] = NumberField(
            label="Rated power", words=("w", "watt", "watts"), low=WATTS[0], high=WATTS[1],
            required=False,
        )  # fmt: skip
        self.fields["ppf_umol_s"] = NumberField(
            label="Rated output (PPF)", words=("µmol/s", "umol/s"), low=PPF[0], high=PPF[1],
            required=False, help_text="If the maker states it. Your readings correct it.",
        )  # fmt: skip
        self.fields["efficacy_umol_j"] = NumberField(
            label="Or its efficacy", words=("µmol/j", "umol/j"), low=EFFICACY[0],
            high=EFFICACY[1], required=False, help_text="PAR photons per joule, for the watts.",
        )  # fmt: skip

    @property
    def tells_more(self):
        """Whether what few lamps need is told, or wrong."""
        names = ("ppf_umol_s", "efficacy_umol_j", "emitter", "lamp")
        return any(self[n].value() not in (None, "") for n in names) or any(
            n in self.errors for n in (*names, "kind", "zone")
        )

    def clean_beam_deg(self):
        # A named optic or a file brings its own; the model sets it.
        optic, beam_deg = self.cleaned_data.get("optic"), self.cleaned_data["beam_deg"]
        if beam_deg is None and optic == Optic.ANGLE:
            raise forms.ValidationError(ANGLE_NEEDED)
        return self.instance.beam_deg if beam_deg is None else beam_deg


class FixtureChoice(forms.TypedChoiceField):
    """A choice among fixtures read once for all rows; cleans to the Fixture, or to None."""

    def __init__(self, fixtures, *, blank, **kwargs):
        self.fixtures = {str(fixture.pk): fixture for fixture in fixtures}
        choices = [("", blank), *((key, f.name) for key, f in self.fixtures.items())]
        super().__init__(
            choices=choices, coerce=self.fixtures.get, empty_value=None, label="Lamp", **kwargs
        )

    def has_changed(self, initial, data):
        # A row is filled by key and cleans to the Fixture; only keys compare.
        return str(initial or "") != str(data or "")


class HungForm(WholeModelForm, forms.ModelForm):
    """Where one fixture hangs and how it is set, in the keeper's unit of length.

    `hanging` is the row it was filled from, None for one more.
    """

    # Whether its fields are shown at once whatever they say; rows folded up say it in one line.
    opens = False

    # Which of those that hung before this row is about.
    number = forms.IntegerField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = HungFixture
        fields = [
            "fixture", "x_cm", "y_cm", "height_cm", "turn_deg", "tilt_deg", "beam_deg",
            "level_percent", "loss_percent",
        ]  # fmt: skip

    def __init__(self, *args, change, fixtures, before, unit, **kwargs):
        super().__init__(*args, instance=HungFixture(change=change), **kwargs)
        tank = change.tank
        self.rows_before = {row.number: row for row in before}
        hanging = self.hanging
        # A row whose fixture is in no library any more still says what hangs there.
        lost = hanging is not None and hanging.fixture_id is None
        self.fields["fixture"] = FixtureChoice(
            fixtures,
            blank=f"{hanging.name}, in no library" if lost else "choose one",
            required=not lost,
        )
        self.add_place(tank, unit)
        self.add_settings()
        add_level_fields(self, *self.channels_shown())

    def add_place(self, tank, unit):
        """Add the fields of where it hangs, in the keeper's unit, and how it is turned."""
        self.fields["x_cm"] = beside("From left", tank.length_cm, unit)
        self.fields["y_cm"] = beside("From front", tank.width_cm, unit)
        self.fields["height_cm"] = LengthField(
            label="Above water", unit=unit, low_cm=HEIGHT[0], high_cm=HEIGHT[1]
        )
        self.fields["turn_deg"] = NumberField(
            label="Turned by", words=DEGREE_WORDS, low=TURN[0], high=TURN[1]
        )
        self.fields["tilt_deg"] = NumberField(
            label="Tilted by", words=DEGREE_WORDS, low=TILT[0], high=TILT[1], required=False
        )

    def add_settings(self):
        """Add the fields of how it is set."""
        self.fields["beam_deg"] = NumberField(
            label="Lens", words=DEGREE_WORDS, low=BEAM[0], high=BEAM[1], required=False
        )
        self.fields["level_percent"] = NumberField(
            label="Level", words=PERCENT_WORDS, low=LEVEL[0], high=LEVEL[1]
        )
        self.fields["loss_percent"] = NumberField(
            label="Lost in 1,000 h", words=PERCENT_WORDS, low=LOSS[0], high=LOSS[1], required=False
        )

    @property
    def stands_open(self):
        """Whether its fields are shown at once: wrong, or the ones to fill.

        What hangs says in one line what was changed of it, so that a wrong row stands alone.
        """
        typed = self.hanging is None and self.is_bound and self.has_changed()
        return self.opens or bool(self.errors) or typed

    @property
    def is_placed(self):
        """Whether it says a place, so that one line can tell the row."""
        return any(self[name].value() not in (None, "") for name in ("x_cm", "y_cm", "height_cm"))

    @property
    def is_special(self):
        """Whether it is turned or tilted, has another lens or ages, or one of these is wrong."""
        return self.says_any("turn_deg", "tilt_deg", "beam_deg", "loss_percent")

    @property
    def is_aslant(self):
        """Whether it is turned or tilted, or one of these is wrong."""
        return self.says_any("turn_deg", "tilt_deg")

    def says_any(self, *names):
        """Return whether one of these fields is wrong or says anything but 0."""
        return any(
            name in self.errors or str(self[name].value() or "") not in ("", "0") for name in names
        )

    @property
    def level_cells(self):
        """The bound fields of its channels' levels."""
        return [self[key] for key in self.level_fields]

    @property
    def has_dimmed_channel(self):
        """Whether one of its channels is entered below full level, or wrongly."""
        said = [str(cell.value() or "") for cell in self.level_cells]
        return any(level not in ("", "100") for level in said)

    def channels_shown(self):
        """Return the key of the fixture the row is about, and its channels."""
        hanging, said = self.hanging, self["fixture"].value()
        said = "" if said is None else str(said)
        if hanging is not None and said == str(hanging.fixture_id or ""):
            return hanging.fixture_id, hanging.channels
        chosen = self.fields["fixture"].fixtures.get(said)
        return (chosen.pk, chosen.channels) if chosen else (None, [])

    @property
    def hanging(self):
        """The HungFixture this row was filled from."""
        said = (
            self.data.get(self.add_prefix("number"))
            if self.is_bound
            else self.initial.get("number")
        )
        return self.rows_before.get(whole_number(said or ""))

    def clean_tilt_deg(self):
        tilt_deg = self.cleaned_data["tilt_deg"]
        is_on_page = self.add_prefix("tilt_deg") in self.data
        # A page that does not ask for it, kept open from before, must not level a fixture.
        kept = 0.0 if is_on_page or self.hanging is None else self.hanging.tilt_deg
        # Nobody need say that a fixture hangs level.
        return kept if tilt_deg is None else tilt_deg

    def clean(self):
        """Keep a stored value whose short text came back as it was shown: nobody changed it."""
        cleaned = super().clean() or self.cleaned_data
        for name in KEPT_AS_SHOWN if self.hanging is not None else ():
            stored, text = getattr(self.hanging, name), self.data.get(self.add_prefix(name))
            shown = self.fields[name].prepare_value(stored)
            if stored is not None and name in cleaned and (text or "").strip() == shown:
                cleaned[name] = stored
        return cleaned

    def _post_clean(self):
        chosen = self.cleaned_data.get("fixture")
        take_what_it_is(self.instance, hanging=self.hanging, fixture=chosen)
        said = levels_said(self)
        if said is not None:
            self.instance.channel_levels = said
        super()._post_clean()

    def hung(self):
        """Return the HungFixture the row says, with what of it was stated here."""
        row = self.instance
        if row.number is not None:
            row.told = stated_of(row, self.hanging)
        return row

    def _get_validation_exclusions(self):
        # The change may be new, rows are numbered as they are saved, and without a fixture
        # chosen there are no facts to check.
        facts = set() if self.instance.name else set(HungFixture.FACTS)
        return super()._get_validation_exclusions() | {"change", "number"} | facts


def beside(label, side_cm, unit):
    """Return the field of a middle along one side: past the rim, but not beyond the room."""
    return LengthField(label=label, unit=unit, low_cm=-side_cm / 2, high_cm=1.5 * side_cm)


class RigRows(
    forms.formset_factory(
        HungForm,
        extra=BLANK_ROWS,
        can_delete=True,
        max_num=FIXTURES_MAX,
        validate_max=True,
        absolute_max=FIXTURES_MAX + BLANK_ROWS,
    )
):
    """What hangs above the tank from a change on, prefilled with what hung before."""

    def add_fields(self, form, index):
        super().add_fields(form, index)
        form.fields["DELETE"].label = "Take down"

    @property
    def hanging_rows(self):
        """The rows of what hung before."""
        return [row for row in self.forms if row.hanging is not None]

    @property
    def more_rows(self):
        """The rows for one more lamp."""
        return [row for row in self.forms if row.hanging is None]

    @property
    def adds_more(self):
        """Whether the rows for one more are shown at once: typed into, or nothing hung before."""
        typed = any(row.is_placed or (row.is_bound and row.has_changed()) for row in self.more_rows)
        return not self.hanging_rows or self.again or typed

    def clean(self):
        numbers = [row.hanging.number for row in self.forms if row.hanging is not None]
        if len(numbers) != len(set(numbers)):
            raise ValidationError("Two rows speak of the same lamp. Reload the page.")

    def kept(self):
        """Return the forms of the rows that hang from then on."""
        return [row for row in self.forms if self.is_said(row) and not taken_down(row)]

    def is_said(self, row):
        return row.has_changed() or row.hanging is not None

    def hung(self):
        """Return the HungFixtures the rows say, in their order."""
        return [row.hung() for row in self.kept()]

    def to_save(self):
        """Return the HungFixtures to save and the numbers taken down; None for a rig as it was."""
        shown = [row.hanging for row in self.forms if row.hanging is not None]
        return rig_to_save(self.change, shown=shown, hung=self.hung())


def taken_down(row):
    return bool(row.cleaned_data.get("DELETE"))


def rig_rows(change, *, user, data=None, again=False):
    """Return the RigRows of a change, bound to the data of a POST if it holds any rows.

    `again` shows what was typed with more blank rows and checks nothing yet.
    """
    before = rows_before(change)
    initial = [typed_of(row) for row in before]
    bound = data if data is not None and f"{PREFIX}-TOTAL_FORMS" in data else None
    if bound is not None and again:
        bound, initial = None, typed_rows(bound)
    fixtures = list(fixtures_for(user, before))
    rows = RigRows(
        bound,
        prefix=PREFIX,
        initial=initial,
        form_kwargs={
            "change": change,
            "fixtures": fixtures,
            "before": before,
            "unit": user.units,
        },
    )
    rows.change, rows.fixtures, rows.before, rows.again = change, fixtures, before, again
    rows.has_choice = bool(fixtures or before)
    open_rows(rows.forms, all_of_them=again)
    return rows


def open_rows(forms, *, all_of_them):
    """Let the first blank row stand open, which is there to be filled; what hangs mostly stays."""
    blank = [row for row in forms if row.hanging is None]
    for row in forms if all_of_them else blank[:1]:
        row.opens = True


def typed_of(row):
    """Return the initial values of a stored row."""
    names = HungForm._meta.fields
    typed = {name: getattr(row, "fixture_id" if name == "fixture" else name) for name in names}
    cells = level_cells(row.fixture_id, row.channels, row.channel_levels)
    return typed | {"number": row.number} | cells


def typed_rows(data):
    """Return what was typed into each row, rows left blank not among them."""
    count = min(whole_number(data.get(f"{PREFIX}-TOTAL_FORMS", "")) or 0, FIXTURES_MAX)
    names = (*HungForm._meta.fields, "number", "DELETE")
    rows = [{name: data.get(f"{PREFIX}-{i}-{name}", "") for name in names} for i in range(count)]
    for i, row in enumerate(rows):
        start = f"{PREFIX}-{i}-"
        row |= {k.removeprefix(start): v for k, v in data.items() if k.startswith(start + CELL)}
    return [row for row in rows if row["fixture"] or row["x_cm"] or row["y_cm"] or row["height_cm"]]
