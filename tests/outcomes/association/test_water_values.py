"""Values of the water on the days of notes, from rows in whatever units keepers write."""

import datetime as dt

import numpy as np
import pytest
from django.utils import timezone

from apps.corals.water.measured import measured_value
from apps.outcomes.association.water_values import WaterSeries, water_columns, water_series
from tests.factories import make_water_event

NOW = timezone.now()


def log(tank, value, *, ago, kind="temperature", unit="°C", **more):
    moment = NOW - dt.timedelta(days=ago)
    return make_water_event(
        tank, happened_at=moment, kind=kind, value=value, unit=unit, could_hurt=False, **more
    )


@pytest.mark.parametrize(
    ("kind", "value", "unit", "text", "words", "expected"),
    [
        ("temperature", 77, "°F", "", "temperature [°C]", 25.0),
        ("temperature", 25, "c", "", "temperature [°C]", 25.0),
        ("alkalinity", 3, "meq/L", "", "alkalinity [dKH]", 8.412),
        ("alkalinity", 150.12, "ppm", "", "alkalinity [dKH]", 8.412),
        ("salinity", 1.0264, "SG", "", "salinity [ppt]", 35.0),
        ("salinity", 53, "mS/cm", "", "salinity [ppt]", 35.0),
        ("salinity", 35, "PSU", "", "salinity [ppt]", 35.0),
        ("calcium", 420, "ppm", "", "calcium [mg/L]", 420.0),
        ("ph", 8.1, "pH", "", "pH", 8.1),
        ("nutrients", 5, "mg/L nitrate", "", "nitrate [mg/L]", 5.0),
        ("nutrients", 30, "ppb", "phosphate, weekly", "phosphate [mg/L]", 0.03),
    ],
)
def test_value_is_taken_in_one_unit(kind, value, unit, text, words, expected):
    measured = measured_value(kind, value=value, unit=unit, text=text)
    assert measured.words == words and measured.value == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("kind", "unit", "text"),
    [
        ("temperature", "%", ""),
        ("nutrients", "mg/L", "weekly"),
        ("nutrients", "", "nitrate"),
        ("dosing", "ml", ""),
        ("salinity", "spoons", ""),
        ("alkalinity", "", ""),
    ],
)
def test_value_in_no_known_unit_is_left_alone(kind, unit, text):
    assert measured_value(kind, value=1.0, unit=unit, text=text) is None


@pytest.mark.parametrize(("days", "weighed"), [(5, 0), (6, 1)])
def test_value_is_weighed_from_six_days_on(tank, days, weighed):
    for ago in range(days):
        log(tank, 25 + 0.1 * ago, ago=ago)
    assert len(water_series(tank)) == weighed


def test_readings_of_a_day_are_one_and_other_tanks_and_deleted_ones_none(tank):
    for ago in range(6):
        log(tank, 24.0, ago=ago)
        log(tank, 78.8, ago=ago, unit="°F")
        log(tank, 99.0, ago=ago).remove()
    (series,) = water_series(tank)
    assert len(series.day) == 6 and series.value.tolist() == pytest.approx([25.0] * 6)


def test_mean_of_a_probes_day_stands_for_it(tank):
    for ago in range(6):
        for text, value in (("lowest", 22.0), ("mean", 25.0), ("highest", 31.0)):
            log(tank, value, ago=ago, text=f"{text} of the day")
    (series,) = water_series(tank)
    assert series.value.tolist() == [25.0] * 6


def test_units_of_one_value_are_one_series(tank):
    for ago in range(6):
        log(tank, 8.0, ago=2 * ago, kind="alkalinity", unit="dKH")
        log(tank, 3.0, ago=2 * ago + 1, kind="alkalinity", unit="meq/L")
    assert [one.words for one in water_series(tank)] == ["alkalinity [dKH]"]


SERIES = WaterSeries("pH", np.array([100.0, 110.0, 140.0]), np.array([8.0, 8.2, 7.9]))


@pytest.mark.parametrize(
    ("day", "value"),
    [
        *((99, None), (100, 8.0), (105, 8.1), (110, 8.2), (111, None)),
        *((140, 7.9), (150, 7.9), (151, None)),
    ],
)
def test_value_is_known_near_its_readings_only(day, value):
    (result,) = SERIES.on([day])
    assert np.isnan(result) if value is None else result == pytest.approx(value)


def test_column_of_change_is_over_a_fortnight():
    days = np.arange(100.0, 141, 10)
    series = WaterSeries("pH", days, np.array([8.0, 8.1, 8.2, 8.3, 8.4]))
    columns = water_columns([series], [dt.date.fromordinal(120), dt.date.fromordinal(110)])
    assert columns[0].tolist() == pytest.approx([8.2, 0.14]) and np.isnan(columns[1, 1])


def test_without_series_there_are_no_columns():
    assert water_columns([], [dt.date(2026, 1, 1)]).shape == (1, 0)
