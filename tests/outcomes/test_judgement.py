"""Constants of judgement of what came of a change of light, each from both sides."""

import datetime as dt
import importlib
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from django.utils import timezone

from apps.corals.models import WaterEvent
from apps.lightmap.lightmap import tank_light
from apps.outcomes.association.comparison import most_together, verdict_of
from apps.outcomes.association.competing_causes import CompetingCause
from apps.outcomes.association.correlation import Step
from apps.outcomes.association.events import Direction, corals_with_notes, episodes
from apps.outcomes.association.verdict import joined
from apps.outcomes.association.weighing import still_affected
from apps.outcomes.case.case_facts import Shift
from apps.outcomes.case.case_rules import Finding, judge_case
from apps.outcomes.case.gathering import is_same_light
from apps.outcomes.case.page import is_hardly
from apps.outcomes.case.water_ranges import widths_beyond
from apps.outcomes.exposure.exposure import LightBook
from apps.outcomes.pool import views as pool_views
from apps.outcomes.pool.pooling import pooled_curve, spread_out
from apps.outcomes.templatetags.outcomes import factor, more_than, percent
from apps.outcomes.trial.status import coral_status, judged, logged_factor, state_of
from apps.photics.causes.association import ENOUGH, UNSURE
from apps.photics.causes.start_trial import StartScore
from tests.factories import make_coral, make_light_change, make_note, make_survey
from tests.outcomes.case.facts import BROWNED, ago, with_light, with_others
from tests.outcomes.trial.test_trials import trial_of

DAY = dt.timedelta(days=1)
NOW = timezone.now()
TODAY = dt.date(2026, 6, 30)

# Constant, without the "apps." before it: the test that holds it.
HELD = {
    "outcomes.pool.pooling.SHARE_MAX": "test_one_keeper_above_half_hides_a_cell",
    "outcomes.pool.pooling.KEEPERS_MIN": "test_fifth_keeper_shows_a_cell",
    "outcomes.pool.pooling.EVENTS_MIN": "test_tenth_event_shows_a_pooled_curve",
    # Two days, written as a number in it.
    "outcomes.trial.status.logged_factor": "test_step_is_judged_by_the_light_of_two_days",
    "outcomes.trial.status.FACTOR_SLACK": "test_step_within_its_slack_is_as_planned",
    "outcomes.trial.status.P_CLAIM": "test_trial_claims_up_to_its_chance",
    "outcomes.association.competing_causes.SHOWS_DAYS": "test_water_event_reaches_two_weeks",
    "outcomes.association.events.EPISODE_DAYS": "test_notes_a_month_apart_are_one_episode",
    "outcomes.association.comparison.EVENTS_MIN": "test_third_affected_coral_is_enough_to_compare",
    "outcomes.association.comparison.P_CLAIM": "test_comparison_claims_up_to_its_chance",
    "outcomes.association.comparison.TOGETHER_DAYS": "test_events_two_weeks_apart_began_together",
    "outcomes.association.verdict.Q_CLAIM": "test_finding_counts_only_below_its_rate",
    "outcomes.templatetags.outcomes.NO_DIFFERENCE_UMOL": "test_half_a_unit_is_a_difference",
    "outcomes.templatetags.outcomes.PERCENT_WHOLE": "test_small_share_has_a_decimal",
    "outcomes.templatetags.outcomes.FACTOR_SHOWN_MAX": "test_factor_of_thousands_has_no_end",
    "outcomes.case.case_facts.FRESH_DAYS": "test_note_of_a_month_ago_still_counts",
    "outcomes.case.case_facts.SETTLING_DAYS": "test_coral_settles_for_six_weeks",
    "outcomes.case.case_facts.SHIFT_FACTOR": "test_light_changed_from_a_fifth_on",
    "outcomes.case.case_facts.VAGUE_FACTOR": "test_light_known_to_a_factor_of_three_says_something",
    "outcomes.case.case_rules.TOGETHER_MIN": "test_third_coral_of_few_makes_it_the_tank",
    "outcomes.case.case_rules.KIN_MIN": "test_second_of_its_kind_speaks_against_light",
    "outcomes.case.gathering.SAME_LIGHT_FACTOR": "test_light_within_a_quarter_is_the_same",
    "outcomes.case.water_ranges.USUAL": "test_water_value_beyond_what_is_usual_counts",
    "outcomes.case.page.HARDLY": "test_step_below_a_twentieth_is_not_listed",
    "outcomes.pool.views.HALF_ERROR_MAX": "test_half_way_is_sure_below_a_quarter",
}


@pytest.mark.parametrize("constant", sorted(HELD))
def test_constant_is_held_by_a_test(constant):
    module, _, name = constant.rpartition(".")
    assert hasattr(importlib.import_module(f"apps.{module}"), name)
    assert callable(globals().get(HELD[constant]))


@pytest.mark.parametrize(("most", "shown"), [(12, True), (13, False)])
def test_one_keeper_above_half_hides_a_cell(most, shown):
    assert spread_out(np.array([most, 3, 3, 3, 3])) == shown


@pytest.mark.parametrize(("counts", "shown"), [([2] * 5, True), ([2] * 4, False)])
def test_fifth_keeper_shows_a_cell(counts, shown):
    assert spread_out(np.array(counts)) == shown


@pytest.mark.parametrize(("last", "shown"), [(2, True), (1, False)])
def test_tenth_event_shows_a_pooled_curve(last, shown):
    rows = [
        (k, k, {"visits": [9, 9], "events": [0, n], "doses": [0, 9], "log_likelihood": None})
        for k, n in enumerate([2, 2, 2, 2, last])
    ]
    assert (pooled_curve("paling", "all", "", rows) is not None) == shown


def test_pooled_curve_counts_tanks_and_keepers_apart():
    entry = {"visits": [9, 9], "events": [0, 2], "doses": [0, 9], "log_likelihood": None}
    rows = [(tank, tank % 5, entry) for tank in range(6)]
    found = pooled_curve("paling", "all", "", rows)
    assert (found.n_tanks, found.n_keepers) == (6, 5)


@pytest.fixture
def stepped_book(tank):
    """Return a trial's draw and a function that enters changes and gives its LightBook."""
    make_survey(tank, taken_at=NOW - dt.timedelta(days=150))
    draw = trial_of(tank, [make_coral(tank)]).draws.get()

    def book_with(**factor_after_days):
        for key, value in factor_after_days.items():
            day = draw.starts_on + int(key[1:]) * DAY
            noon = dt.datetime.combine(day, dt.time(12), tzinfo=tank.zone)
            make_light_change(tank, happened_at=noon, factor=value)
        corals = list(tank.corals.prefetch_related("spots", "notes"))
        return LightBook(tank, corals, tank_light(tank))

    return draw, book_with


@pytest.mark.parametrize(("late", "expected"), [("d1", 0.4), ("d2", 0.8)])
def test_step_is_judged_by_the_light_of_two_days(stepped_book, tank, late, expected):
    draw, book_with = stepped_book
    book = book_with(d0=0.8, **{late: 0.5})
    found = logged_factor(book, book.corals[0], draw.starts_on, tank.today())
    assert found == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("done", "as_planned"), [(0.912, True), (0.928, False), (0.688, True), (0.672, False)]
)
def test_step_within_its_slack_is_as_planned(stepped_book, tank, done, as_planned):
    draw, book_with = stepped_book
    row = coral_status(book_with(d0=done), draw, tank.today())
    assert row.logged_factor == pytest.approx(done, rel=1e-6)
    assert row.as_planned == as_planned


@pytest.mark.parametrize(
    ("gain", "p", "words"),
    [
        (1, 0.05, "The step helped"),
        (1, 0.051, "Cannot tell"),
        (-1, 0.05, "It went the other way"),
        (-1, 0.051, "Cannot tell"),
        (0, 0.01, "Cannot tell"),
    ],
)
def test_trial_claims_up_to_its_chance(gain, p, words):
    score = StartScore(gain, p, p, 0.01, 100)
    assert judged("done", score, [SimpleNamespace(as_planned=True)])[0] == words


@pytest.mark.parametrize(("days", "reaches"), [(-1, False), (0, True), (14, True), (15, False)])
def test_water_event_reaches_two_weeks(days, reaches):
    assert CompetingCause(1, TODAY, "dose", "").reaches(TODAY + days * DAY) == reaches


@pytest.mark.parametrize(("apart", "count"), [(30, 1), (31, 2)])
def test_notes_a_month_apart_are_one_episode(tank, apart, count):
    coral = make_coral(tank)
    for days in (100, 100 - apart):
        make_note(coral, noted_on=tank.today() - days * DAY, seen="paling", strength=2)
    found = list(episodes(corals_with_notes(tank)[0], Direction.LIGHTER))
    assert len(found) == count
    event, last = found[0], found[0].last_on
    assert event.near(last + 30 * DAY) and not event.near(last + 31 * DAY)
    assert event.near(event.first_on - 30 * DAY) and not event.near(event.first_on - 31 * DAY)
    assert still_affected(event, last + 30 * DAY) and not still_affected(event, last + 31 * DAY)
    assert not still_affected(event, event.first_on)


def ranked(**overrides):
    fields = {"smallest_p_value": 0.01, "p_value": 0.01, "direction": "higher"} | overrides
    return SimpleNamespace(**fields)


@pytest.mark.parametrize(("affected", "word"), [(0, "no_light"), (2, "few_events"), (3, "fits")])
def test_third_affected_coral_is_enough_to_compare(affected, word):
    assert verdict_of(Direction.LIGHTER, 3, affected, ranked()) == word


@pytest.mark.parametrize(
    ("test", "word"),
    [
        ({"p_value": 0.05}, "fits"),
        ({"p_value": 0.051}, "unclear"),
        ({"smallest_p_value": 0.05}, "fits"),
        ({"smallest_p_value": 0.051}, "too_small"),
        ({"smallest_p_value": 1.0}, "all_equal"),
    ],
)
def test_comparison_claims_up_to_its_chance(test, word):
    assert verdict_of(Direction.LIGHTER, 3, 3, ranked(**test)) == word


@pytest.mark.parametrize(("apart", "count"), [(14, 2), (15, 1)])
def test_events_two_weeks_apart_began_together(apart, count):
    days = (TODAY, TODAY + apart * DAY)
    assert most_together([SimpleNamespace(first_on=day) for day in days]) == count


@pytest.mark.parametrize(("q", "verdict"), [(0.049, ENOUGH), (0.05, UNSURE)])
def test_finding_counts_only_below_its_rate(q, verdict):
    across = SimpleNamespace(verdict="unclear", direction=Direction.LIGHTER)
    within = SimpleNamespace(verdict=ENOUGH, reason="So it is.")
    assert joined(across, within, None, q)[0] == verdict


@pytest.mark.parametrize(("q", "points"), [(0.049, True), (0.05, False)])
def test_corals_beside_count_only_below_their_rate(q, points):
    across = SimpleNamespace(verdict="fits", direction=Direction.LIGHTER)
    within = SimpleNamespace(verdict=UNSURE, reason="So it is.")
    assert (joined(across, within, q, 0.5)[0] != UNSURE) == points


@pytest.mark.parametrize(
    ("umol", "words"),
    [(0.49, "the same as"), (-0.49, "the same as"), (0.5, "more"), (-0.5, "less")],
)
def test_half_a_unit_is_a_difference(umol, words):
    assert words in more_than(umol)


@pytest.mark.parametrize(("share", "words"), [(0.0949, "9.5"), (0.095, "10")])
def test_small_share_has_a_decimal(share, words):
    assert percent(share) == words


@pytest.mark.parametrize(
    ("value", "words"), [(9.99, "9.99"), (10, "10"), (999, "999"), (1000, "over 1000")]
)
def test_factor_of_thousands_has_no_end(value, words):
    assert factor(value) == words


@pytest.mark.parametrize(("error", "sure"), [(0.249, True), (0.251, False)])
def test_half_way_is_sure_below_a_quarter(monkeypatch, error, sure):
    found = SimpleNamespace(standard_errors=(0, 0, 0, 2.0 * error), half=2.0)
    monkeypatch.setattr(pool_views, "fit_log_logistic", lambda *args, **kwargs: found)
    bins = [
        SimpleNamespace(middle_log2=m, share=SimpleNamespace(value=0.1, number=9)) for m in (0, 2)
    ]
    assert (pool_views.half_way(bins) is found) == sure


@pytest.mark.parametrize(
    ("days", "state"), [(-1, "waiting"), (0, "running"), (9, "running"), (10, "done")]
)
def test_trial_runs_from_its_first_day_to_its_last(days, state):
    trial = SimpleNamespace(stopped_on=None, began_on=TODAY, ends_on=TODAY + 9 * DAY)
    assert state_of(trial, None, TODAY + days * DAY) == state


@pytest.mark.parametrize(("days", "is_old"), [(30, False), (31, True)])
def test_note_of_a_month_ago_still_counts(days, is_old):
    facts = replace(BROWNED, first_on=ago(days), last_on=ago(days))
    assert (judge_case(facts).finding is Finding.OLD) == is_old


@pytest.mark.parametrize(("days", "settles"), [(41, True), (42, False)])
def test_coral_settles_for_six_weeks(days, settles):
    facts = replace(BROWNED, came_on=BROWNED.first_on - days * DAY)
    assert (judge_case(facts).finding is Finding.SETTLING) == settles


@pytest.mark.parametrize(
    ("ratio", "way"), [(1.19, "steady"), (1.2, "rose"), (0.84, "steady"), (0.83, "fell")]
)
def test_light_changed_from_a_fifth_on(ratio, way):
    assert Shift(ratio, 0.99 * ratio, 1.01 * ratio).way == way
    # However far: where the interval holds no change, none is sure.
    assert Shift(ratio, 0.5, 2.0).way == "steady"


@pytest.mark.parametrize(("high", "is_vague"), [(300, False), (301, True)])
def test_light_known_to_a_factor_of_three_says_something(high, is_vague):
    facts = with_light(BROWNED, shift=None, low_umol=100, high_umol=high)
    assert (judge_case(facts).finding is Finding.LIGHT_UNKNOWN) == is_vague


@pytest.mark.parametrize(
    ("turned", "living", "is_tank"), [(2, 3, False), (3, 3, True), (3, 6, True), (3, 7, False)]
)
def test_third_coral_of_few_makes_it_the_tank(turned, living, is_tank):
    facts = with_others(BROWNED, turned=turned, living=living)
    assert (judge_case(facts).finding is Finding.WHOLE_TANK) == is_tank


@pytest.mark.parametrize(("well", "speaks"), [(1, False), (2, True)])
def test_second_of_its_kind_speaks_against_light(well, speaks):
    judged = judge_case(with_others(BROWNED, kin_well=well))
    assert ("kin_well" in judged.against_it) == speaks


@pytest.mark.parametrize(("par", "is_same"), [(124, True), (126, False), (81, True), (79, False)])
def test_light_within_a_quarter_is_the_same(par, is_same):
    light, other = (SimpleNamespace(par_umol=value) for value in (100, par))
    assert is_same_light(light, other) == is_same


@pytest.mark.parametrize(
    ("kind", "unit", "low", "high"),
    [
        ("temperature", "°C", 23.0, 28.0),
        ("temperature", "°F", 73.4, 82.4),
        ("salinity", "ppt", 32.0, 37.0),
        ("alkalinity", "dKH", 6.5, 12.0),
        ("calcium", "mg/L", 350.0, 500.0),
        ("ph", "", 7.7, 8.6),
        ("nutrients", "mg/L nitrate", 0.0, 50.0),
        ("nutrients", "mg/L phosphate", 0.0, 0.5),
    ],
)
def test_water_value_beyond_what_is_usual_counts(kind, unit, low, high):
    inside, outside = ([low + 0.01, high - 0.01], [high + 0.01] + [low - 0.01] * (low > 0))
    assert [widths_beyond(WaterEvent(kind=kind, unit=unit, value=v)) for v in inside] == [0, 0]
    assert all(widths_beyond(WaterEvent(kind=kind, unit=unit, value=v)) > 0 for v in outside)


@pytest.mark.parametrize(("factor_", "is_left_out"), [(1.04, True), (1.06, False), (0.94, False)])
def test_step_below_a_twentieth_is_not_listed(factor_, is_left_out):
    assert is_hardly(Step(TODAY, "light", "Wiped", factor_, None, None)) == is_left_out
