"""Rows no way in may take, and odd ones every way in must: form, import, model and API alike.

Each is for the 60 x 60 x 50 cm tank of the factories, as text of x, y, depth, PAR.
"""

import pytest

GOOD = {"x": "30", "y": "20", "depth": "10", "par": "150"}

# Changed cells, and a piece of the sentence the keeper gets at that cell.
_BAD = {
    "left of the water": ({"x": "-1"}, "Outside the water"),
    "right of the water": ({"x": "60.1"}, "Outside the water: 0 to 60 cm"),
    "behind the water": ({"y": "61"}, "Outside the water: 0 to 60 cm"),
    "below the water": ({"depth": "50,5"}, "Outside the water: 0 to 50 cm"),
    "above the water": ({"depth": "-3"}, "Outside the water"),
    "metres into the wall": ({"x": "1 m"}, "Outside the water"),
    "negative PAR": ({"par": "-5"}, "PAR is between 0 and 5000"),
    "absurd PAR": ({"par": "50000"}, "PAR is between 0 and 5000"),
    "text for PAR": ({"par": "bright"}, "is not a number"),
    "text for a place": ({"y": "front"}, "is not a number"),
    "unknown unit": ({"par": "120 lux"}, "Leave out “lux”"),
    "thousand or one point two": ({"par": "1,200"}, "can mean 1200 or 1.2"),
    "no place": ({"x": ""}, "Write a number here"),
    "not a number": ({"par": "nan"}, "is not a number"),
    "infinite": ({"par": "inf"}, "is not a number"),
    "too large to hold": ({"par": "1e400"}, "is too large"),
    "place too large to hold": ({"x": "1e400"}, "is too large"),
    "two numbers": ({"par": "12 13"}, "is not a number alone"),
}
_ODD = {
    "decimal comma": ({"par": "12,5"}, 12.5),
    "unit behind": ({"par": "120 par"}, 120.0),
    "unit spelt out": ({"par": "120 µmol"}, 120.0),
    "spaces round it": ({"par": "  80 "}, 80.0),
    "no light": ({"par": "0"}, 0.0),
    "most light": ({"par": "5000"}, 5000.0),
    "exponent": ({"par": "1.2e2"}, 120.0),
}

BAD_ROWS = [
    pytest.param(GOOD | cells, next(iter(cells)), problem, id=name)
    for name, (cells, problem) in _BAD.items()
]
ODD_ROWS = [pytest.param(GOOD | cells, value, id=name) for name, (cells, value) in _ODD.items()]

# The same as numbers, for the model and for callers that send numbers.
BAD_NUMBERS = [
    pytest.param({"x_cm": -1.0}, id="left of the water"),
    pytest.param({"x_cm": 60.1}, id="right of the water"),
    pytest.param({"y_cm": 61.0}, id="behind the water"),
    pytest.param({"depth_cm": 50.5}, id="below the water"),
    pytest.param({"depth_cm": -3.0}, id="above the water"),
    pytest.param({"value_umol": -5.0}, id="negative PAR"),
    pytest.param({"value_umol": 50_000.0}, id="absurd PAR"),
    pytest.param({"value_umol": float("nan")}, id="nan PAR"),
    pytest.param({"value_umol": float("inf")}, id="infinite PAR"),
    pytest.param({"x_cm": float("nan")}, id="nan place"),
    pytest.param({"value_umol": None}, id="no PAR"),
    pytest.param({"y_cm": None}, id="no place"),
    pytest.param({"spread_umol": -1.0}, id="negative spread"),
    pytest.param({"spread_umol": 9_000.0}, id="absurd spread"),
]
GOOD_NUMBERS = {"x_cm": 30.0, "y_cm": 20.0, "depth_cm": 10.0, "value_umol": 150.0}

# Dates a survey cannot have, as the clock at the tank shows them.
BAD_DATES = [
    pytest.param("2999-01-01T12:00", "in the future", id="future"),
    pytest.param("0001-01-01T00:00", "1980 or later", id="long ago"),
    pytest.param("9999-12-31T23:59", "in the future", id="end of time"),
    pytest.param("yesterday", "valid date", id="text"),
    pytest.param("", "required", id="blank"),
]
