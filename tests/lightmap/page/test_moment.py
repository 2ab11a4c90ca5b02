"""Of which moment a map's light is: one fact changes at a time."""

import datetime as dt

import pytest

from apps.lightmap.page.moment import moment_words
from apps.lightmap.stated_outputs import OutputSource

MAY, JUNE = dt.date(2026, 5, 2), dt.date(2026, 6, 1)


@pytest.mark.parametrize(
    ("facts", "title", "rest"),
    [
        ({}, "Measured 2 May 2026", ""),
        ({"newer_exists": True}, "Measured 2 May 2026", "; there is a newer survey"),
        ({"changed_since": True}, "Measured 2 May 2026", "; the light has changed since"),
        (
            {"changed_since": True, "newer_exists": True},
            "Measured 2 May 2026",
            "; the light has changed since",
        ),
        (
            {"predicted_since": JUNE},
            "Predicted since 1 Jun 2026",
            " from the survey of 2 May 2026",
        ),
        ({"rests_on": "27 readings and 2"}, "Measured: 27 readings and 2", ""),
        (
            {"predicted_since": JUNE, "rests_on": "27 readings and 2"},
            "Predicted since 1 Jun 2026",
            " from 27 readings and 2",
        ),
        ({"half_width_percent": 9.6}, "Measured 2 May 2026", ", ±\u00a010\u00a0% (90\u00a0%)"),
        ({"half_width_percent": None}, "Measured 2 May 2026", ""),
    ],
)
def test_line_says_the_moment(facts, title, rest):
    words = moment_words(measured_on=MAY, **facts)
    assert (words.title, words.rest) == (title, rest)


def test_light_nobody_measured_says_so():
    said = {by: moment_words(measured_on=None, output_source=by) for by in OutputSource}
    assert {words.title for words in said.values()} == {"Not measured"}
    assert len({words.rest for words in said.values()}) == len(OutputSource)
