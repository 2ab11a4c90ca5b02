"""The two gaps a plain ModelForm and a plain ModelSerializer leave open, and that ours close."""

import datetime as dt

import pytest
from django import forms
from django.core.exceptions import ValidationError
from rest_framework import serializers

from apps.common.model_forms import WholeModelForm
from apps.common.programs.serializers import WholeModelSerializer
from apps.common.units import LengthField
from apps.common.validation import FILL_IN
from apps.corals.models import Coral, Spot
from apps.lighting.models import LightChange
from apps.photics.ground.lengths import CM
from apps.surveys.models import Meter, Survey
from apps.tanks.models import Rock, Tank
from tests.factories import make_coral, make_light_change

DAY = dt.date(2026, 5, 1)


class PlainSpotForm(forms.ModelForm):
    class Meta:
        model = Spot
        fields = ["x_cm", "y_cm", "depth_cm", "since"]


class WholeSpotForm(WholeModelForm, PlainSpotForm):
    pass


class PlainRockSerializer(serializers.ModelSerializer):
    class Meta:
        model = Rock
        fields = ["x_cm", "y_cm", "depth_cm", "length_cm", "width_cm", "height_cm"]


class WholeRockSerializer(WholeModelSerializer, PlainRockSerializer):
    pass


class WholeSpotSerializer(WholeModelSerializer):
    class Meta:
        model = Spot
        fields = ["x_cm", "y_cm", "depth_cm", "since"]


TYPED = {"x_cm": "5", "y_cm": "5", "depth_cm": "5", "since": DAY.isoformat()}
OUTSIDE = {
    "x_cm": 5, "y_cm": 5, "depth_cm": 5, "length_cm": 400, "width_cm": 5, "height_cm": 5,
}  # fmt: skip


@pytest.fixture
def coral(tank):
    return make_coral(tank, at_cm=(1, 1, 1), since=DAY)


def test_plain_form_misses_a_constraint_on_a_hidden_field(coral):
    assert PlainSpotForm(TYPED, instance=Spot(coral=coral)).is_valid()


def test_whole_form_sees_it_and_tells_it_for_the_form(coral):
    form = WholeSpotForm(TYPED, instance=Spot(coral=coral))
    assert not form.is_valid() and "already has a spot" in form.non_field_errors()[0]


def test_whole_form_tells_a_hidden_fields_fault_for_the_form(tank):
    class NameForm(WholeModelForm, forms.ModelForm):
        class Meta:
            model = Tank
            fields = ["name"]

    tank.time_zone = "Mars/Olympus"
    form = NameForm({"name": "x"}, instance=tank)
    assert not form.is_valid() and "not a time zone" in form.non_field_errors()[0]


def test_whole_form_tells_each_fault_once(coral):
    form = WholeSpotForm(TYPED | {"x_cm": "far"}, instance=Spot(coral=coral))
    assert not form.is_valid() and len(form.errors["x_cm"]) == 1


def test_row_without_a_maker_can_still_be_changed(tank):
    class SummaryForm(WholeModelForm, forms.ModelForm):
        class Meta:
            model = LightChange
            fields = ["summary"]

    change = make_light_change(tank, created_by=None)
    assert SummaryForm({"summary": "Lowered"}, instance=change).is_valid()


@pytest.mark.parametrize(("typed", "stored_cm"), [("13.1", 33.3), ("13.2", 33.53)])
def test_length_left_as_shown_stays_as_stored(tank, typed, stored_cm):
    class LengthForm(WholeModelForm, forms.ModelForm):
        length_cm = LengthField(unit="in")

        class Meta:
            model = Tank
            fields = ["length_cm"]

    tank.length_cm = 33.3
    form = LengthForm({"length_cm": typed}, instance=tank)
    assert form.is_valid() and form.instance.length_cm == stored_cm


def test_plain_serializer_misses_the_models_clean():
    assert PlainRockSerializer(data=OUTSIDE).is_valid()


def test_whole_serializer_sees_it_at_its_field(tank):
    serializer = WholeRockSerializer(data=OUTSIDE, context={"fixed": {"tank": tank}})
    assert not serializer.is_valid() and list(serializer.errors) == ["length_cm"]


def test_whole_serializer_sees_a_constraint_on_a_fixed_field(coral):
    data = {"x_cm": 5, "y_cm": 5, "depth_cm": 5, "since": DAY}
    serializer = WholeSpotSerializer(data=data, context={"fixed": {"coral": coral}})
    assert not serializer.is_valid()
    assert "already has a spot" in serializer.errors["non_field_errors"][0]


def test_whole_serializer_leaves_the_row_alone_until_saved(coral):
    spot = coral.spots.get()
    serializer = WholeSpotSerializer(spot, data={"x_cm": 900}, partial=True)
    assert not serializer.is_valid() and spot.x_cm == 1


def test_plain_number_field_takes_a_truth_value():
    """The reason for our own."""
    assert serializers.FloatField().to_internal_value(True) == 1.0


@pytest.mark.parametrize("value", ["nan", "inf", True])
def test_whole_serializer_takes_numbers_only(tank, value):
    serializer = WholeRockSerializer(
        data=OUTSIDE | {"length_cm": value}, context={"fixed": {"tank": tank}}
    )
    assert not serializer.is_valid() and "number" in serializer.errors["length_cm"][0]


def test_length_field_refuses_below_its_bound_in_the_keepers_unit():
    field = LengthField(unit=CM, low_cm=10, high_cm=20)
    with pytest.raises(forms.ValidationError, match="Between 10 and 20 cm"):
        field.clean("9.9")


@pytest.mark.parametrize("year", [1, 1979])
def test_every_dated_entry_has_one_earliest_year(tank, year):
    long_ago = dt.datetime(year, 5, 5, 12, tzinfo=dt.UTC)
    coral = make_coral(tank)
    rows = {
        "taken_at": Survey(tank=tank, taken_at=long_ago),
        "checked_on": Meter(owner=tank.owner, label="x", checked_on=long_ago.date()),
        "happened_at": LightChange(tank=tank, summary="x", factor=1, happened_at=long_ago),
        "added_on": Coral(tank=tank, name="x", group="sps", added_on=long_ago.date()),
        "since": Spot(coral=coral, x_cm=1, y_cm=1, depth_cm=1, since=long_ago.date()),
    }
    for name, row in rows.items():
        with pytest.raises(ValidationError) as problem:
            row.clean()
        assert "1980 or later" in str(problem.value.message_dict[name])


def test_what_is_left_out_is_called_for_by_one_sentence_on_pages_and_to_programs(coral):
    form = WholeSpotForm({}, instance=Spot(coral=coral))
    none_sent = WholeSpotSerializer(data={})
    null_sent = WholeSpotSerializer(data=dict.fromkeys(TYPED))
    assert not (form.is_valid() or none_sent.is_valid() or null_sent.is_valid())
    for errors in (form.errors, none_sent.errors, null_sent.errors):
        assert errors.keys() == TYPED.keys()
        assert all(words == [FILL_IN] for words in errors.values())
    with pytest.raises(ValidationError) as refused:
        Coral(tank=coral.tank, name="").clean_fields()
    assert refused.value.message_dict["name"] == [FILL_IN]
