"""The oldest year an entry may carry: the form's word and the database's say the same."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from apps.common.validation import FIRST_DAY, FIRST_MOMENT
from apps.corals.colour_models import CoralSize
from tests.factories import (
    make_acclimation,
    make_coral,
    make_light_change,
    make_meter,
    make_survey,
    make_water_event,
)

FIELDS = {
    "happened_at of a light change": (make_light_change, "happened_at"),
    "taken_at of a survey": (make_survey, "taken_at"),
    "checked_on of a meter": (lambda tank: make_meter(tank.owner), "checked_on"),
    "added_on of a coral": (make_coral, "added_on"),
    "since of a spot": (lambda tank: make_coral(tank).spots.get(), "since"),
    "happened_at of a water event": (make_water_event, "happened_at"),
    "measured_on of a size": (
        lambda tank: CoralSize.objects.create(
            coral=make_coral(tank), measured_on=tank.today(), diameter_cm=4
        ),
        "measured_on",
    ),
    "starts_on of an acclimation": (lambda tank: make_acclimation(make_coral(tank)), "starts_on"),
}


def first_of(row, name):
    is_moment = isinstance(row._meta.get_field(name), models.DateTimeField)
    return FIRST_MOMENT if is_moment else FIRST_DAY


@pytest.mark.parametrize("of", FIELDS)
def test_form_and_database_refuse_what_lies_before_the_first_year(tank, of):
    make, name = FIELDS[of]
    row = make(tank)
    setattr(row, name, first_of(row, name) - dt.timedelta(days=1))
    with pytest.raises(ValidationError, match="The year is 1980 or later") as stated:
        row.full_clean()
    assert list(stated.value.error_dict) == [name]
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


@pytest.mark.parametrize("of", FIELDS)
def test_database_takes_the_first_of_all(tank, of):
    make, name = FIELDS[of]
    row = make(tank)
    setattr(row, name, first_of(row, name))
    row.save()
    row.refresh_from_db()
    assert getattr(row, name) == first_of(row, name)


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "UTC", "Pacific/Pago_Pago"])
def test_the_first_hour_of_the_first_year_is_taken_wherever_the_tank_stands(tank, zone):
    change = make_light_change(tank)
    change.happened_at = dt.datetime(1980, 1, 1, 0, 30, tzinfo=ZoneInfo(zone))
    change.full_clean()
    change.save()
    assert change.happened_at >= FIRST_MOMENT
