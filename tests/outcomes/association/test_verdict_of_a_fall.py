"""What the fall of a coral's condition in an event amounts to."""

import datetime as dt
from types import SimpleNamespace

import pytest

from apps.outcomes.association.events import Decline

BEFORE, WORST = dt.date(2026, 3, 1), dt.date(2026, 3, 9)


@pytest.mark.parametrize(
    ("steps", "is_real", "verdict"),
    [
        (-2, True, "A real fall"),
        (-1, False, "Within what two looks may differ by"),
        (0, False, "No fall"),
        (2, True, "No fall"),
    ],
)
def test_a_fall_is_real_where_it_is_larger_than_two_looks_differ_by(steps, is_real, verdict):
    change = SimpleNamespace(steps=steps, is_real=is_real)
    decline = Decline("good", BEFORE, "poor", WORST, change)
    assert (decline.verdict, decline.is_real) == (verdict, verdict == "A real fall")
