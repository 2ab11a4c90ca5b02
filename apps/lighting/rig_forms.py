"""Forms of a keeper's fixtures, and the rows of what hangs above a tank."""

from django import forms

from apps.common.units import LengthField, NumberField
from apps.common.validation import WholeModelForm
from apps.lighting.models import (
    BEAM,
    EFFICACY,
    HEIGHT,
    LEVEL,
    LIT_SIDE,
    PPF,
    TURN,
    WATTS,
    Fixture,
    HungFixture,
    Optic,
)
from apps.lighting.rig import rig_in_force, same_rig
from apps.photics.limits import FIXTURES_MAX

PREFIX = "hung"
# Blank rows at the end; "More rows" adds as many again.
BLANK_ROWS = 2
DEGREE_WORDS = ("°", "deg", "degrees")


class FixtureForm(WholeModelForm, forms.ModelForm):
    """One fixture, described by what it is; its place over a tank is told elsewhere."""

    class Meta:
        model = Fixture
        fields = [
            "name", "kind", "lit_length_cm", "lit_width_cm", "optic", "beam_deg", "watts",
            "ppf_umol_s", "efficacy_umol_j", "zone",
        ]  # fmt: skip
        labels = {"name": "What you call it", "optic": "Optic told as", "zone": "Shines on"}
        help_texts = {"optic": "Degrees of named optics are common practice, no published source."}

    def __init__(self, *args, unit, **kwargs):
        super().__init__(*args, **kwargs)
        side = {"unit": unit, "low_cm": LIT_SIDE[0], "high_cm": LIT_SIDE[1]}
        self.fields["lit_length_cm"] = LengthField(
            label="Length of the lit area",
            help_text="Of the part that shines, along the tank when not turned.",
            **side,
        )
        self.fields["lit_width_cm"] = LengthField(
            label="Width of the lit area", help_text="Front to back.", **side
        )
        self.fields["beam_deg"] = NumberField(
            label="Beam angle",
            words=DEGREE_WORDS,
            low=BEAM[0],
            high=BEAM[1],
            help_text="Full angle at half strength. Only where the optic is told as an angle.",
            required=False,
        )
        self.fields["watts"] = NumberField(
            label="Rated watts", words=("w", "watt", "watts"), low=WATTS[0], high=WATTS[1],
            required=False,
        )  # fmt: skip
        self.fields["ppf_umol_s"] = NumberField(
            label="Rated output (PPF)", words=("µmol/s", "umol/s"), low=PPF[0], high=PPF[1],
            required=False, help_text="If its maker states it. The map is fitted to your readings.",
        )  # fmt: skip
        self.fields["efficacy_umol_j"] = NumberField(
            label="Or its efficacy", words=("µmol/j", "umol/j"), low=EFFICACY[0],
            high=EFFICACY[1], required=False, help_text="PAR photons a joule; counts with watts.",
        )  # fmt: skip
        if not self.instance.measured:
            self.fields["optic"].choices = [c for c in Optic.choices if c[0] != Optic.FILE]

    def clean_beam_deg(self):
        # A named optic or a file brings its own; the model sets it.
        told_as, beam_deg = self.cleaned_data.get("optic"), self.cleaned_data["beam_deg"]
        if beam_deg is None and told_as == Optic.ANGLE:
            raise forms.ValidationError("Say the angle, or choose a named optic.")
        return self.instance.beam_deg if beam_deg is None else beam_deg


class HungForm(WholeModelForm, forms.ModelForm):
    """Where one fixture hangs and how it is set, in the keeper's unit of length."""

    class Meta:
        model = HungFixture
        fields = [
            "fixture", "x_cm", "y_cm", "height_cm", "turn_deg", "beam_deg", "level_percent",
        ]  # fmt: skip

    def __init__(self, *args, change, fixtures, unit, **kwargs):
        super().__init__(*args, instance=HungFixture(change=change), **kwargs)
        tank = change.tank
        self.fields["fixture"].queryset = fixtures
        self.fields["fixture"].empty_label = "choose one"
        self.fields["x_cm"] = beside("From left", tank.length_cm, unit)
        self.fields["y_cm"] = beside("From front", tank.width_cm, unit)
        self.fields["height_cm"] = LengthField(
            label="Above water", unit=unit, low_cm=HEIGHT[0], high_cm=HEIGHT[1]
        )
        self.fields["turn_deg"] = NumberField(
            label="Turned by", words=DEGREE_WORDS, low=TURN[0], high=TURN[1]
        )
        self.fields["beam_deg"] = NumberField(
            label="Lens", words=DEGREE_WORDS, low=BEAM[0], high=BEAM[1], required=False
        )
        self.fields["level_percent"] = NumberField(
            label="Level", words=("%", "percent"), low=LEVEL[0], high=LEVEL[1]
        )

    def _get_validation_exclusions(self):
        # The change may be new, and rows are numbered as they are saved.
        return super()._get_validation_exclusions() | {"change", "number"}


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

    def hung(self):
        """Return the HungFixtures the rows say, in their order."""
        rows = [form for form in self.forms if form.has_changed() or form.initial.get("fixture")]
        return [form.instance for form in rows if not form.cleaned_data.get("DELETE")]


def rig_rows(change, *, user, data=None, again=False):
    """Return the RigRows of a change, bound to the data of a POST if it holds any rows.

    `again` shows what was typed with more blank rows and checks nothing yet.
    """
    before = rows_before(change)
    initial = [typed_of(row) for row in before]
    bound = data if data is not None and f"{PREFIX}-TOTAL_FORMS" in data else None
    if bound is not None and again:
        bound, initial = None, typed_rows(bound)
    fixtures = fixtures_for(user, before)
    rows = RigRows(
        bound,
        prefix=PREFIX,
        initial=initial,
        form_kwargs={
            "change": change,
            "fixtures": fixtures,
            "unit": user.units,
        },
    )
    rows.before = before
    rows.has_choice = fixtures.exists()
    return rows


def rows_before(change):
    """Return the HungFixtures a change says itself, else those in force before it."""
    own = list(change.hung.select_related("fixture")) if change.pk else []
    return own or rig_in_force(change.tank, change.happened_at, without=change)


def hung_to_save(change, rows):
    """Return the HungFixtures to save, or None when the rows leave the rig as it was."""
    if not rows.is_bound:
        return None
    hung = rows.hung()
    return None if same_rig(hung, rows.before) else hung


def fixtures_for(user, rows):
    """Return the fixtures a keeper may hang: their own, and those that hang there already."""
    hanging = {row.fixture_id for row in rows}
    return Fixture.objects.owned_by(user) | Fixture.objects.filter(pk__in=hanging)


def typed_of(row):
    """Return the initial values of a stored row."""
    names = HungForm._meta.fields
    return {name: getattr(row, "fixture_id" if name == "fixture" else name) for name in names}


def typed_rows(data):
    """Return what was typed into each row, rows left blank not among them."""
    text = data.get(f"{PREFIX}-TOTAL_FORMS", "")
    count = min(int(text), FIXTURES_MAX) if text.isascii() and text.isdigit() else 0
    names = (*HungForm._meta.fields, "DELETE")
    rows = [{name: data.get(f"{PREFIX}-{i}-{name}", "") for name in names} for i in range(count)]
    return [row for row in rows if row["fixture"] or row["x_cm"] or row["y_cm"] or row["height_cm"]]
