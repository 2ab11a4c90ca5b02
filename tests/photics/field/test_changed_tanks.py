"""The forecast on tanks traced before and after a change: it stays this good.

Eight invented tanks of a world harder than the field's own model (tests/data/changed_tanks).
Limits leave room for other machines' rounding and small changes of method, not for a worse one;
`python -m tests.benchmarks.bench_forecast` prints the figures.
"""

import pytest

from tests.benchmarks.bench_forecast import all_filed, scores_by_change
from tests.photics.changed import all_changed

# MdAPE and least mean coverage after each change [%]; the goal is 7 and 85. Where the new optic
# is of another kind its light can't be known from the old one's: the interval must say so. Nobody
# states the kinds here: weighing them costs one of its kind 0.4 and brings another kind 1.4.
GOALS = {
    "raised": (4.0, 90),
    "raised, narrower, an optic of its kind": (7.8, 90),
    "raised, narrower, one of another kind": (17.0, 85),
    "narrower on one": (7.2, 85),
    "one off": (7.0, 87),
    "levels": (3.5, 85),
    "moved over rock": (4.0, 88),
    "first on again": (4.0, 88),
    "one added": (3.2, 90),
    "raised, narrower, an optic of its kind; its file": (7.0, 90),
    "raised, narrower, an optic of its kind; both files": (5.0, 90),
    "raised, narrower, one of another kind; its file": (8.5, 90),
    "raised, narrower, one of another kind; both files": (7.0, 90),
    "narrower on one; its file": (5.5, 88),
    "narrower on one; both files": (5.0, 88),
}


def can_halve(change):
    """Tell whether a change of optics, if it is one, is told well enough to halve the peer's error.

    A raised optic of its own kind keeps most of the old map's shape: there the peer is good.
    """
    return "narrower" not in change or ("; " in change and "its kind; its file" not in change)


@pytest.fixture(scope="module")
def scores():
    return scores_by_change([*all_changed(), *all_filed()])


def test_every_kind_of_change_is_scored(scores):
    assert set(scores) == set(GOALS)


@pytest.mark.parametrize("change", GOALS)
def test_error_and_coverage_after(scores, change):
    error, coverage = GOALS[change]
    before, after, _, covers, _ = scores[change].mean(axis=0)
    assert after < error
    assert covers > coverage
    assert before < 3.0


@pytest.mark.parametrize("change", [name for name in GOALS if can_halve(name)])
def test_half_the_error_of_rescaling(scores, change):
    _, after, peer, _, _ = scores[change].mean(axis=0)
    assert after < 0.5 * peer
