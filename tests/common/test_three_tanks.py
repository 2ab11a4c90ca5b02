"""The tanks that times are told by are what they say, and open like any other."""

import pytest
from django.urls import reverse

from tests.benchmarks.three_tanks import HEAVY, MIDDLING, ORDINARY, make_measured


def counts(tank):
    readings = sum(survey.readings.count() for survey in tank.surveys.all())
    return (
        tank.light_changes.first().hung.count() or tank.light_changes.last().hung.count(),
        readings,
        tank.corals.count(),
        tank.light_changes.count(),
        sum(coral.notes.count() for coral in tank.corals.all()),
    )


@pytest.mark.parametrize(
    ("measure", "expected"),
    [(ORDINARY, (2, 48, 20, 12, 60)), (MIDDLING, (6, 360, 80, 60, 240))],
    ids=["ordinary", "middling"],
)
def test_tank_has_what_its_measure_says(owner, measure, expected):
    assert counts(make_measured(owner, measure)) == expected


def test_heavy_measure_is_as_heavy_as_told():
    columns, rows = HEAVY.fixtures
    assert (columns * rows, HEAVY.surveys, HEAVY.readings) == (40, 3, 1000)
    assert (HEAVY.corals, HEAVY.changes, HEAVY.notes) == (300, 2000, 600)


def test_ordinary_tank_has_a_light_map(owner, as_user):
    tank = make_measured(owner, ORDINARY)
    page = as_user(owner).get(reverse("light_map", args=[tank.pk]))
    assert page.status_code == 200 and page.context["page"].light.fitted.field is not None
