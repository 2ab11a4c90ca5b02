"""The lumen method beside an answer: near enough is called about the same."""

import pytest

from apps.planning.layout.quick_estimate import QuickEstimate


@pytest.mark.parametrize(
    ("field_umol", "words"),
    [
        (114.9, "about the same"),
        (85.1, "about the same"),
        (116.0, "16\u00a0% more"),
        (50.0, "50\u00a0% less"),
    ],
)
def test_how_far_the_light_field_is_from_the_estimate(field_umol, words):
    assert QuickEstimate("Rock", 20.0, 100.0, field_umol, 80.0, 90.0).words == words
