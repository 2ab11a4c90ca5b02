"""All corals of a tank compared: known scenarios give the true numbers and words."""

import numpy as np
import pytest

from apps.outcomes.association.correlation import tank_outcomes
from tests.factories import make_coral, make_light_change
from tests.outcomes.association.pale_corals import SEEN, days_ago, pale


def lighter(tank):
    return tank_outcomes(tank).comparisons[0]


def rows_of_corals(tank, depths, **fields):
    return [
        make_coral(tank, at_cm=(30, 30, depth), name=f"Coral at {depth}", **fields)
        for depth in depths
    ]


def test_bright_corals_that_paled_fit(lit):
    bright, dim = rows_of_corals(lit, (6, 8, 10, 12)), rows_of_corals(lit, (30, 33, 36, 39, 42))
    for i, coral in enumerate(bright):
        pale(coral, ago=20 + 16 * i)
    found = lighter(lit)
    assert found.verdict == "fits"
    assert (found.affected, found.without) == (len(bright), len(dim))
    # All 4 above all 5: 2 of C(9,4) = 126 arrangements.
    assert found.for_band.p_value == pytest.approx(2 / 126)


def test_change_of_the_whole_tank_between_events_counts_for_no_coral(lit):
    """Dimmed to a tenth, the last two to pale had less than the deep ones before, as such."""
    bright = rows_of_corals(lit, (6, 8, 10, 12))
    rows_of_corals(lit, (30, 33, 36, 39, 42))
    make_light_change(lit, happened_at=days_ago(70), factor=0.1)
    for coral, ago in zip(bright, (100, 95, 30, 20), strict=True):
        pale(coral, ago=ago)
    assert lighter(lit).for_band.effect == 1


def test_dim_corals_that_paled_speak_against(lit):
    rows_of_corals(lit, (6, 8, 10, 12, 14))
    for coral in rows_of_corals(lit, (36, 38, 40, 42)):
        pale(coral)
    assert lighter(lit).verdict == "against"


def test_dim_corals_that_browned_fit(lit):
    rows_of_corals(lit, (6, 8, 10, 12, 14))
    for coral in rows_of_corals(lit, (36, 38, 40, 42)):
        pale(coral, seen=SEEN.BROWNING)
    assert tank_outcomes(lit).comparisons[1].verdict == "fits"


def test_mixed_corals_are_unclear(lit):
    corals = rows_of_corals(lit, (6, 12, 18, 24, 30, 36, 40, 44))
    for coral in corals[::2]:
        pale(coral)
    assert lighter(lit).verdict == "unclear"


def test_groups_are_also_compared_with_themselves(lit):
    for group, depths in (("sps", (6, 8, 30, 34)), ("soft", (7, 9, 32, 36))):
        for depth in depths:
            coral = make_coral(lit, name=f"{group} {depth}", group=group, at_cm=(30, 30, depth))
            if depth < 20:
                pale(coral)
    found = tank_outcomes(lit).comparisons[0].by_group
    # Of 6 x 6 ways to choose two of four in each group, the seen one is the most extreme.
    assert found.direction == "higher" and found.p_value == pytest.approx(2 / 36)


def test_two_events_claim_nothing_however_bright(lit):
    for coral in rows_of_corals(lit, (6, 8)):
        pale(coral)
    rows_of_corals(lit, np.linspace(25, 45, 12).round(1))
    found = lighter(lit)
    assert found.for_band.p_value < 0.05 and found.verdict == "few_events"


def test_three_against_two_can_show_nothing(lit):
    for coral in rows_of_corals(lit, (6, 8, 10)):
        pale(coral)
    rows_of_corals(lit, (30, 40))
    found = lighter(lit)
    assert found.verdict == "too_small"
    assert found.for_band.smallest_p_value == pytest.approx(0.2)


def test_tank_wide_paling_has_nothing_to_compare_with(lit):
    for coral in rows_of_corals(lit, (6, 16, 26, 36)):
        pale(coral)
    found = lighter(lit)
    assert (found.verdict, found.together) == ("none_without", 4)


def test_all_on_one_spot_shows_nothing(lit):
    corals = rows_of_corals(lit, (20,) * 8)
    for coral in corals[:4]:
        pale(coral)
    assert lighter(lit).verdict == "all_equal"


def test_events_without_light_are_said(tank):
    pale(make_coral(tank))
    found = lighter(tank)
    assert (found.verdict, found.without_light) == ("no_light", 1)


def test_no_notes(lit):
    make_coral(lit)
    assert [c.verdict for c in tank_outcomes(lit).comparisons] == ["no_events", "no_events"]


def test_coral_counts_once_however_often_it_paled(lit):
    coral = make_coral(lit)
    for ago in (20, 70, 120):
        pale(coral, ago=ago)
    found = lighter(lit)
    assert (found.n_events, found.affected, found.verdict) == (3, 1, "few_events")


def test_no_answer_without_counting_who_was_never_noted(lit):
    pale(make_coral(lit))
    make_coral(lit, name="Unplaced", at_cm=None)
    told = tank_outcomes(lit).missing
    assert (told.unplaced, told.never_noted) == (1, 1)


def test_reads_do_not_grow_with_the_corals(lit, django_assert_max_num_queries):
    for coral in rows_of_corals(lit, np.linspace(4, 46, 40).round(1)):
        pale(coral)
    with django_assert_max_num_queries(10):
        outcomes = tank_outcomes(lit)
        for event in outcomes.events:
            outcomes.exposed(event)
