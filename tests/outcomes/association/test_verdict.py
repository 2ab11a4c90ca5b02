"""One verdict from two comparisons: every stated rule once."""

from types import SimpleNamespace

import pytest

from apps.outcomes.association.events import Direction
from apps.outcomes.association.verdict import joined, judge
from apps.photics.causes.association import ELSEWHERE, ENOUGH, POINTS, UNSURE


def verdict(within, across="unclear", *, across_q=0.5, within_q=0.001):
    beside = SimpleNamespace(verdict=across, direction=Direction.LIGHTER)
    found = SimpleNamespace(verdict=within, reason="Because.")
    return joined(beside, found, across_q, within_q)[0]


@pytest.mark.parametrize(
    ("within", "across", "expected"),
    [
        (ENOUGH, "unclear", ENOUGH),
        (ENOUGH, "against", POINTS),
        (POINTS, "fits", POINTS),
        (POINTS, "against", UNSURE),
        (ELSEWHERE, "unclear", ELSEWHERE),
        (ELSEWHERE, "fits", UNSURE),
        (UNSURE, "fits", POINTS),
        (UNSURE, "against", UNSURE),
    ],
)
def test_rule(within, across, expected):
    assert verdict(within, across, across_q=0.01) == expected


def test_what_does_not_bear_the_other_looks_is_no_finding():
    assert verdict(POINTS, within_q=0.06) == UNSURE
    assert verdict(UNSURE, "fits", across_q=0.06) == UNSURE


def question(direction, within_p, across_p, across="unclear"):
    test = SimpleNamespace(p_value=across_p)
    comparison = SimpleNamespace(direction=direction, verdict=across, for_band=test)
    found = SimpleNamespace(p_value=within_p, verdict=POINTS, reason="Because.")
    return comparison, SimpleNamespace(direction=direction, association=found)


def test_all_that_is_shown_is_allowed_for_at_once():
    pairs = [question(Direction.LIGHTER, 0.03, 0.5), question(Direction.DARKER, 0.9, 0.8)]
    comparisons, weighed = zip(*pairs, strict=True)
    first = judge(comparisons, weighed)[0]
    assert first.looks == 4 and first.within_q == pytest.approx(0.12)
    assert first.verdict == UNSURE and "allowed for" in first.reason


def test_comparison_of_too_few_corals_is_no_look():
    (comparison, found) = question(Direction.LIGHTER, 0.03, 1.0, across="few_events")
    (judged,) = judge([comparison], [found])
    assert judged.looks == 1 and judged.verdict == POINTS
