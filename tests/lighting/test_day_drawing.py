"""The drawing of the day shows the schedule and what it is worth."""

import itertools

import pytest

from apps.lighting.day_drawing import day_drawing
from apps.lighting.day_run import DaySchedule


def test_no_schedule_no_drawing():
    assert day_drawing(None) is None


def test_outline_is_the_trapezoid():
    # 304 pixels a day: 12 h reach 152 from the left edge at 8, a 2 h ramp 25.3.
    drawn = day_drawing(DaySchedule(12, 2))
    assert drawn.outline == "8,100 33.3,26 134.7,26 160,100"


def test_worth_is_the_hours_minus_one_ramp():
    drawn = day_drawing(DaySchedule(12, 2))
    assert drawn.full_hours == pytest.approx(10)
    # 100 umol x 10 h x 3600 s: 3.6 mol.
    assert drawn.example_dli_mol == pytest.approx(3.6)


def test_labels_never_run_into_each_other():
    labels = day_drawing(DaySchedule(10, 0.5)).labels
    places = sorted(label.x for label in labels)
    assert min(b - a for a, b in itertools.pairwise(places)) >= 26


@pytest.mark.parametrize(
    ("day", "ramp", "words"),
    [(0, 0, "No light"), (10, 0, "at once"), (24, 12, "0\u00a0h at full light")],
)
def test_edges_of_a_day_are_said(day, ramp, words):
    assert words in day_drawing(DaySchedule(day, ramp)).sentence
