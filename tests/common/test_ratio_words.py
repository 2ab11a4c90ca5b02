"""A ratio of two lights as a page says it."""

import pytest

from apps.common.templatetags.reef import by_percent, signed_percent


@pytest.mark.parametrize(
    ("ratio", "words", "signed"),
    [
        (1.11, "11\u00a0% brighter", "+11\u00a0%"),
        (0.9, "10\u00a0% dimmer", "−10\u00a0%"),
        (1.004, "the same", "0\u00a0%"),
        (0.996, "the same", "0\u00a0%"),
        (2.4, "140\u00a0% brighter", "+140\u00a0%"),
        (0.0, "100\u00a0% dimmer", "−100\u00a0%"),
    ],
)
def test_a_ratio_in_percent(ratio, words, signed):
    assert by_percent(ratio) == words
    assert signed_percent(ratio) == signed


def test_other_words_may_be_chosen():
    assert [by_percent(ratio, "higher,lower") for ratio in (1.02, 0.98)] == [
        "2\u00a0% higher", "2\u00a0% lower",
    ]  # fmt: skip
