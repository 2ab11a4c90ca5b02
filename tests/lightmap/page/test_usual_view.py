"""The depth and the band that the map shows where its address says nothing."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.lightmap.page.usual_view import corals_depth_cm, usual_band
from apps.lightmap.pins import Pin
from tests.factories import make_coral, make_lit_survey, make_rock, make_survey
from tests.lightmap.page.test_map_views import page

BRIGHT, DIM = (200.0, 350.0), (50.0, 150.0)


def pins(*rows):
    return [Pin("", 0, 0, depth, band_low_umol=low, band_high_umol=high)
            for depth, (low, high) in rows]  # fmt: skip


def depth_of(client, tank, query=""):
    return page(client, tank, query).context["page"].view.depth_cm


@pytest.mark.parametrize(
    ("rows", "expected_cm"),
    [
        # Three stand deep, but the band that is drawn is wanted higher up.
        ([(10, BRIGHT), (12, BRIGHT), (45, DIM), (45, BRIGHT), (45, DIM)], 11),
        # As many of them at two depths: where more corals of any kind stand.
        ([(10, BRIGHT), (30, BRIGHT), (31, DIM)], 30.5),
        # As many of any kind: the higher one.
        ([(30, BRIGHT), (10, BRIGHT)], 10),
    ],
)
def test_depth_is_where_most_corals_of_the_drawn_band_stand(tank, rows, expected_cm):
    assert corals_depth_cm(tank, pins(*rows), BRIGHT) == expected_cm


def test_corals_without_a_band_count_as_any(tank):
    bare = [Pin("", 0, 0, depth) for depth in (20, 21, 40)]
    assert usual_band(bare) is None and corals_depth_cm(tank, bare, None) == 20.5
    assert corals_depth_cm(tank, [], None) is None


def test_map_opens_at_its_corals_unless_a_depth_is_asked_for(as_user, owner, tank):
    make_survey(tank)
    make_coral(tank, at_cm=(30, 30, 17))
    client = as_user(owner)
    assert depth_of(client, tank) == 17
    assert depth_of(client, tank, "?depth=9") == 9


@pytest.mark.parametrize(("top_cm", "expected_cm"), [(20, 20), (0, 5), (48, 40)])
def test_without_corals_it_opens_on_the_largest_rock_within_what_was_read(
    as_user, owner, tank, top_cm, expected_cm
):
    rows = [(x, y, depth, 100) for x in (10, 30, 50) for y in (10, 50) for depth in (5, 40)]
    make_survey(tank, readings=rows)
    make_rock(tank, length_cm=20, width_cm=20, depth_cm=top_cm, height_cm=2)
    make_rock(tank, x_cm=40, length_cm=5, width_cm=5, depth_cm=30, height_cm=5)
    assert depth_of(as_user(owner), tank) == expected_cm


def test_two_check_readings_leave_it_at_the_depth_it_had(as_user, owner, tank):
    week_ago = timezone.now() - dt.timedelta(days=7)
    make_lit_survey(tank, taken_at=week_ago)
    before = depth_of(as_user(owner), tank)
    checks = [(x, y, 35, 90) for x, y in ((12, 12), (40, 40))]
    make_survey(tank, readings=checks)
    assert before < 30 and depth_of(as_user(owner), tank) == before
