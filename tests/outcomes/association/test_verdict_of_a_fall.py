"""What the fall of a coral's condition in an event amounts to."""

import datetime as dt
from types import SimpleNamespace

import pytest

from apps.outcomes.association.events import Decline

BEFORE, WORST = dt.date(2026, 3, 1), dt.date(2026, 3, 9)


@pytest.mark.parametrize(
    ("steps", "differ", "is_real"),
    [(-2, True, True), (-1, False, False), (0, False, False), (2, True, False)],
)
def test_a_fall_is_real_where_it_is_larger_than_two_looks_differ_by(steps, differ, is_real):
    change = SimpleNamespace(steps=steps, is_real=differ)
    decline = Decline("good", BEFORE, "poor", WORST, change)
    assert decline.is_real is is_real and decline.verdict
