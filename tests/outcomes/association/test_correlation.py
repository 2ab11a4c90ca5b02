"""What corals did beside the light they had: known scenarios give the true numbers and words."""

import datetime as dt

import numpy as np
import pytest
from django.utils import timezone

from apps.corals.models import HealthNote, Spot
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association.correlation import tank_outcomes, why_unknown
from apps.outcomes.association.events import Direction, corals_with_notes, episodes
from tests.factories import (
    grid_readings,
    hang,
    make_coral,
    make_light_change,
    make_lit_survey,
    make_note,
    make_rock,
    make_survey,
)

NOW = timezone.now()
SEEN = HealthNote.Seen
BRIGHT, DIM = (30, 30, 8), (30, 30, 45)


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def date_ago(tank, n):
    return tank.today() - dt.timedelta(days=n)


@pytest.fixture
def lit(tank):
    """A tank measured long ago, with ten hours of light a day."""
    make_survey(tank, taken_at=days_ago(150), readings=grid_readings(tank))
    make_light_change(
        tank, happened_at=days_ago(160), factor=1, summary="Hours set", day_hours=10, ramp_hours=0
    )
    return tank


def only_event(tank):
    outcomes = tank_outcomes(tank)
    (event,) = outcomes.events
    return outcomes.exposed(event)


def lighter(tank):
    return tank_outcomes(tank).comparisons[0]


def pale(coral, ago=20, **fields):
    return make_note(coral, noted_on=date_ago(coral.tank, ago), **fields)


# --- Episodes -------------------------------------------------------------------------------


def test_notes_within_thirty_days_are_one_episode(tank):
    coral = make_coral(tank)
    first = pale(coral, ago=90)
    pale(coral, ago=61, seen=SEEN.BLEACHING)
    (found,) = episodes(corals_with_notes(tank)[0], Direction.LIGHTER)
    assert (found.pk, len(found.note_pks), found.verb) == (first.pk, 2, "paled")


def test_sign_beside_the_main_one_makes_an_event(tank):
    pale(make_coral(tank), seen=SEEN.TISSUE_LOSS, also_seen=["bleaching", "browning"], strength=2)
    coral = corals_with_notes(tank)[0]
    (lighter,), (darker,) = (list(episodes(coral, direction)) for direction in Direction)
    assert (lighter.verb, lighter.severity) == ("bleached", 5)
    assert (darker.verb, darker.severity) == ("browned", 2)


@pytest.mark.parametrize(
    ("conditions", "steps", "real"),
    [
        ((5, 3, 2), -3, True),
        ((5, 4, 5), -1, False),
        ((4, 3, None), -1, False),
        ((3, 5, 6), 2, False),
    ],
)
def test_fall_of_condition_is_from_the_last_before_to_the_worst_in_it(
    tank, conditions, steps, real
):
    """Two steps or more are real: Siebeck et al. 2006, Coral Reefs 25."""
    coral, (before, *within) = make_coral(tank), conditions
    pale(coral, ago=50, seen=SEEN.OTHER, condition=before)
    for ago, condition in zip((40, 30), within, strict=True):
        pale(coral, ago=ago, condition=condition)
    (found,) = episodes(corals_with_notes(tank)[0], Direction.LIGHTER)
    assert (found.decline.change.steps, found.decline.is_real) == (steps, real)


def test_condition_said_only_once_shows_no_fall(tank):
    pale(make_coral(tank), condition=2)
    (found,) = episodes(corals_with_notes(tank)[0], Direction.LIGHTER)
    assert found.decline is None


def test_longer_silence_begins_a_new_episode(tank):
    coral = make_coral(tank)
    pale(coral, ago=90)
    pale(coral, ago=59)
    assert len(list(episodes(corals_with_notes(tank)[0], Direction.LIGHTER))) == 2


def test_removed_note_makes_no_event(lit):
    pale(make_coral(lit)).remove()
    assert tank_outcomes(lit).events == ()


def test_note_of_looking_well_makes_no_event(lit):
    pale(make_coral(lit), seen=SEEN.WELL)
    assert tank_outcomes(lit).events == ()


# --- One event ------------------------------------------------------------------------------


def test_light_on_the_eve_is_that_of_the_spot(lit):
    pale(make_coral(lit, at_cm=BRIGHT))
    expected = tank_light(lit).at([BRIGHT], days_ago(20))[0]
    assert only_event(lit).light.par_umol == pytest.approx(expected.par_umol)


def test_raised_light_shows_as_more_than_three_weeks_before(lit):
    make_light_change(lit, happened_at=days_ago(30), factor=1.5, day_hours=None, ramp_hours=0)
    pale(make_coral(lit))
    gap = only_event(lit).since_weeks_3
    assert gap.par_ratio == pytest.approx(1.5)
    assert gap.dli_ratio == pytest.approx(1.5)


def test_mean_weighs_each_stretch_by_its_days(lit):
    noon = dt.datetime.combine(date_ago(lit, 27), dt.time.min, tzinfo=lit.zone)
    make_light_change(lit, happened_at=noon, factor=2.0, day_hours=None, ramp_hours=0)
    pale(make_coral(lit), ago=20)
    found = only_event(lit)
    # 14 of the 21 days at half the light of the last 7.
    assert found.mean.par_umol == pytest.approx(found.light.par_umol * (14 * 0.5 + 7) / 21)
    assert found.mean.days == pytest.approx(21)


def test_longer_day_alone_raises_the_daily_light_only(lit):
    make_light_change(lit, happened_at=days_ago(30), factor=1, day_hours=12, ramp_hours=0)
    pale(make_coral(lit))
    found = only_event(lit)
    assert found.since_weeks_6.par_ratio == pytest.approx(1)
    assert found.since_weeks_6.dli_ratio == pytest.approx(1.2)
    assert (found.steps[0].hours_before, found.steps[0].hours_after) == (10, 12)


def test_lamp_turned_down_is_told_with_what_it_took_from_the_coral(tank):
    make_lit_survey(tank, taken_at=days_ago(60))
    make_light_change(
        tank, happened_at=days_ago(90), factor=1, summary="Hours set", day_hours=10, ramp_hours=0
    )
    change = make_light_change(
        tank, happened_at=days_ago(25), factor=1, summary="Halved", day_hours=None, ramp_hours=0
    )
    hang(change, tank.owner.fixtures.get(), level_percent=50)
    coral = make_coral(tank)
    pale(coral)
    x, y, depth = 30, 30, 25
    was, becomes = (tank_light(tank).at([(x, y, depth)], days_ago(n))[0] for n in (26, 24))
    (step,) = [step for step in only_event(tank).steps if step.words == "Halved"]
    assert step.factor == pytest.approx(becomes.par_umol / was.par_umol) and step.factor < 0.7


def test_what_is_done_on_the_day_of_the_note_is_not_before_it(lit):
    coral = make_coral(lit, at_cm=BRIGHT)
    x, y, depth = DIM
    Spot.objects.create(coral=coral, x_cm=x, y_cm=y, depth_cm=depth, since=date_ago(lit, 20))
    pale(coral)
    found = only_event(lit)
    bright = tank_light(lit).at([BRIGHT], days_ago(20))[0]
    assert found.light.par_umol == pytest.approx(bright.par_umol) and found.steps == ()


def test_move_into_the_light_is_told_with_its_factor(lit):
    coral = make_coral(lit, at_cm=DIM)
    x, y, depth = BRIGHT
    Spot.objects.create(coral=coral, x_cm=x, y_cm=y, depth_cm=depth, since=date_ago(lit, 30))
    pale(coral)
    found = only_event(lit)
    was, becomes = tank_light(lit).at([DIM, BRIGHT], days_ago(30))
    (step,) = found.steps
    assert (step.kind, step.on) == ("moved", date_ago(lit, 30))
    assert step.factor == pytest.approx(becomes.par_umol / was.par_umol)
    assert found.since_weeks_3.par_ratio == pytest.approx(step.factor)


def test_change_of_seven_weeks_ago_is_not_told(lit):
    make_light_change(lit, happened_at=days_ago(20 + 49), factor=1.5)
    pale(make_coral(lit))
    assert only_event(lit).steps == ()


def test_later_survey_is_told(tank):
    make_survey(tank, taken_at=days_ago(5))
    pale(make_coral(tank))
    assert only_event(tank).light.measured_later
    assert tank_outcomes(tank).missing.measured_later == 1


def test_new_survey_between_is_told(lit):
    make_survey(lit, taken_at=days_ago(25), readings=grid_readings(lit, top_umol=400))
    pale(make_coral(lit))
    assert only_event(lit).since_weeks_3.across_surveys


def test_unknown_for_want_of_a_survey(tank):
    pale(make_coral(tank))
    assert only_event(tank).unknown == "no_map"


def test_unknown_for_want_of_a_spot(lit):
    pale(make_coral(lit, at_cm=None))
    assert only_event(lit).unknown == "no_spot"


def test_unknown_when_it_came_that_day(lit):
    coral = make_coral(lit, added_on=date_ago(lit, 20))
    pale(coral)
    assert only_event(lit).unknown == "just_came"


def test_unknown_within_a_rock(lit):
    make_rock(lit, x_cm=20, y_cm=20, depth_cm=20, length_cm=20, width_cm=20, height_cm=10)
    pale(make_coral(lit, at_cm=(30, 30, 25), since=date_ago(lit, 600)))
    assert only_event(lit).unknown == "in_rock"


def test_unknown_after_it_left(lit):
    pale(make_coral(lit, gone_on=date_ago(lit, 40)))
    assert only_event(lit).unknown == "gone"


def test_unknown_for_no_reason_known_says_no_other(lit):
    coral = make_coral(lit)
    pale(coral)
    outcomes = tank_outcomes(lit)
    found = outcomes.book.coral_by_pk[coral.pk]
    assert why_unknown(outcomes.book, found, outcomes.events[0]) == "other"


def test_short_stay_means_only_its_days(lit):
    coral = make_coral(lit, since=date_ago(lit, 25))
    pale(coral)
    found = only_event(lit)
    assert found.mean.days == pytest.approx(5) and found.since_weeks_3 is None


def test_no_schedule_no_daily_light(tank):
    make_survey(tank, taken_at=days_ago(100))
    pale(make_coral(tank))
    assert only_event(tank).mean.dli_mol is None


# --- Neighbours -----------------------------------------------------------------------------


def test_brighter_neighbours_are_counted_for_their_band(lit):
    pale(make_coral(lit, at_cm=(30, 30, 25)))
    make_coral(lit, at_cm=BRIGHT, name="Brighter, same group")
    # Dimmer as such, but far above a low band of its own.
    make_coral(lit, at_cm=DIM, name="Low band", band_low_umol=5, band_high_umol=10)
    make_coral(lit, at_cm=DIM, name="Dimmer")
    found = only_event(lit)
    assert (found.compared, found.brighter, found.brighter_plain) == (3, 2, 1)


def test_neighbour_with_the_same_note_is_not_counted(lit):
    pale(make_coral(lit, at_cm=DIM, name="A"))
    pale(make_coral(lit, at_cm=BRIGHT, name="B"), ago=30)
    outcomes = tank_outcomes(lit)
    found = outcomes.lit(outcomes.events[0])
    assert (found.event.coral_name, found.compared, found.together) == ("A", 0, 1)
    assert found.neighbours[0].same_note


def test_coral_gone_before_is_no_neighbour(lit):
    pale(make_coral(lit))
    make_coral(lit, name="Gone", gone_on=date_ago(lit, 40))
    assert only_event(lit).neighbours == ()


# --- All corals -----------------------------------------------------------------------------


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
