"""A band said both ways."""

import pytest

from apps.common.templatetags.reef import band_words


def plain(words):
    """Return words without the signs that keep them on one line."""
    return words.replace("\N{NO-BREAK SPACE}", " ").replace("\N{WORD JOINER}", "")


@pytest.mark.parametrize(
    ("ends", "hours", "words"),
    [
        ((100.0, 200.0), 10.0, "PAR 100–200 for 10 h (3.6–7.2 mol a day)"),
        ((100.0, 200.0), None, "PAR 100–200"),
        ((100.0, 200.0), 0.0, "PAR 100–200"),
        # 390 x 8 h x 0.0036 is 11.2: the end of the SPS band before its PAR was rounded is 11.3.
        ((225.0, 390.0), 8.0, "PAR 225–390 for 8 h (6.5–11.3 mol a day)"),
        ((240.0, 420.0), 7.5, "PAR 240–420 for 7.5 h (6.5–11.3 mol a day)"),
    ],
)
def test_a_band_has_its_daily_light_where_hours_are_known(ends, hours, words):
    assert plain(band_words(*ends, hours)) == words


def test_a_page_may_say_the_hours_elsewhere():
    said = plain(band_words(100.0, 200.0, 10.0, over=False))
    assert said == "PAR 100–200 (3.6–7.2 mol a day)"
