"""A band said both ways."""

import pytest

from apps.planning.templatetags.plan_light import band_words


@pytest.mark.parametrize(
    ("hours", "words"),
    [(10.0, "PAR 100–200 (3.6–7.2 mol a day)"), (None, "PAR 100–200"), (0.0, "PAR 100–200")],
)
def test_a_band_has_its_daily_light_where_hours_are_known(hours, words):
    assert band_words(100.0, 200.0, hours) == words
