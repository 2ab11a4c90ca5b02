"""Constants of judgement, each from both sides: just inside one answer, just outside the other.

`HELD` lists them with the test that holds each. Bounds of what may be typed (`photics.limits`) are
held beside their forms.
"""

import datetime as dt
import importlib
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from apps.corals.condition import Change
from apps.corals.coral.change_effect import way
from apps.corals.photos.colour_story import hue_words
from apps.lighting.change import summary
from apps.lighting.change.factor import factor_words
from apps.lighting.optic_models import check_channels
from apps.lightmap.check import reminders
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.why import round_par
from apps.outcomes.association.comparison import most_together, verdict_of
from apps.outcomes.association.competing_causes import WaterRival
from apps.outcomes.association.events import Direction, corals_with_notes, episodes
from apps.outcomes.association.verdict import joined
from apps.outcomes.association.weighing import still_affected
from apps.outcomes.exposure.exposure import LightBook
from apps.outcomes.pool.pooling import pooled_curve, spread_out
from apps.outcomes.templatetags.outcomes import factor, more_than, percent
from apps.outcomes.trial.status import coral_standing, found_factor, judged
from apps.photics.causes.association import ENOUGH, UNSURE, leans_against
from apps.photics.causes.rank_correlation import rank_correlation
from apps.photics.causes.ranks import EXACT_MAX, rank_test
from apps.photics.causes.start_trial import StartScore, start_gains
from apps.photics.causes.tank_weeks import tank_weeks
from apps.photics.colour.alignment import Alignment
from apps.photics.colour.coral_colour import Light, problems_of
from apps.photics.colour.growth import growth
from apps.photics.colour.own_range import own_range
from apps.photics.day.cross_check import ratio_of
from apps.photics.day.logged_light import LoggedLight, logged_light
from apps.photics.field.readings import NotEnoughReadings, prepare_readings
from apps.photics.field.summary import summarise
from apps.photics.ground.scene import Tank
from apps.photics.layout.grid_rule import rule_grid
from apps.planning.acclimation import acclimated_light
from apps.planning.acclimation.following import counts
from apps.planning.acclimation.step_settings import NoWay, share_settings
from apps.planning.models import Acclimation
from apps.planning.place.place import is_taken
from apps.surveys.models import CHECK_GOOD_FOR, Meter
from apps.surveys.tables.headings import is_numbering
from apps.tanks import reminding
from tests.factories import make_coral, make_light_change, make_note, make_survey
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
    "outcomes.trial.status.found_factor": "test_step_is_judged_by_the_light_of_two_days",
    "outcomes.trial.status.FACTOR_SLACK": "test_step_within_its_slack_is_as_planned",
    "outcomes.trial.status.P_CLAIM": "test_trial_claims_up_to_its_chance",
    "outcomes.association.competing_causes.RIVAL_DAYS": "test_water_event_reaches_two_weeks",
    "outcomes.association.events.EPISODE_DAYS": "test_notes_a_month_apart_are_one_episode",
    "outcomes.association.comparison.EVENTS_MIN": "test_third_affected_coral_is_enough_to_compare",
    "outcomes.association.comparison.P_CLAIM": "test_comparison_claims_up_to_its_chance",
    "outcomes.association.comparison.TOGETHER_DAYS": "test_events_two_weeks_apart_began_together",
    "outcomes.association.verdict.Q_CLAIM": "test_finding_counts_only_below_its_rate",
    "outcomes.templatetags.outcomes.NO_DIFFERENCE_UMOL": "test_half_a_unit_is_a_difference",
    "outcomes.templatetags.outcomes.PERCENT_WHOLE": "test_small_share_has_a_decimal",
    "outcomes.templatetags.outcomes.FACTOR_SHOWN_MAX": "test_factor_of_thousands_has_no_end",
    "corals.coral.change_effect.SAME_WITHIN": "test_change_of_half_a_percent_is_none",
    "corals.condition.REAL_STEPS": "test_two_steps_of_condition_are_real",
    "corals.photos.colour_story.GREY_CHROMA": "test_little_chroma_is_grey",
    "planning.acclimation.acclimated_light.LOOK_BACK": "test_light_of_long_ago_is_forgotten",
    "planning.acclimation.following.WATCH_DAYS": "test_note_four_weeks_after_arriving_still_counts",
    "planning.place.place.ELBOW_CM": "test_place_beside_a_coral_is_taken",
    "planning.acclimation.step_settings.SLACK": "test_light_just_over_the_most_is_still_had",
    "lighting.change.factor.SPOKEN_WITHIN": "test_factor_near_a_spoken_one_is_spoken",
    "lighting.change.summary.TWICE_WITHIN": "test_factor_near_the_levels_is_told_twice",
    "lighting.change.summary.OPPOSITE_FROM": "test_clearly_opposite_factor_is_named",
    "lighting.optic_models.SHARES_OFF_PERCENT": "test_shares_may_be_off_by_rounding_only",
    "lightmap.check.reminders.UNSURE_PERCENT": "test_map_is_stale_once_unsure",
    "lightmap.check.reminders.UNSURE_TIMES": "test_map_is_stale_once_less_sure_than_it_was",
    "lightmap.check.reminders.TUBE_HOURS": "test_tubes_are_due_after_their_hours",
    "lightmap.check.reminders.FORESEEN_DAYS": "test_tubes_are_foreseen_ten_years",
    "surveys.models.CHECK_GOOD_FOR": "test_check_of_a_meter_holds_a_year",
    "lightmap.page.why.WHOLE_FROM_UMOL": "test_dim_light_has_a_decimal",
    "surveys.tables.headings.NUMBERING_LINES": "test_third_line_makes_a_numbering",
    "tanks.reminding.AHEAD": "test_reminder_shows_two_weeks_ahead",
    "photics.colour.own_range.HISTORY_MIN": "test_eighth_value_makes_a_range",
    "photics.colour.own_range.LIMIT_SD": "test_range_ends_at_three_deviations",
    "photics.causes.rank_correlation.EXACT_MAX": "test_nine_values_are_counted_exactly",
    "photics.causes.ranks.EXACT_MAX": "test_ranks_are_exact_up_to_their_most",
    "photics.colour.growth.SIZES_MIN": "test_third_day_makes_a_growth",
    "photics.causes.start_trial.NOTES_MIN": "test_second_note_makes_a_gain",
    "photics.causes.start_trial.SETTLE_DAYS": "test_notes_count_from_the_tenth_day",
    "photics.day.cross_check.PAIRS_MIN": "test_third_pair_makes_a_ratio",
    "photics.day.cross_check.DARK_UMOL": "test_pair_darker_than_two_is_passed_over",
    "photics.causes.tank_weeks.WEEK_DAYS": "test_visits_a_week_apart_are_two_rounds",
    "photics.causes.tank_weeks.TANK_CHANGE_SHARE": "test_quarter_of_the_corals_is_the_tank",
    "photics.day.logged_light.GAP_MAX_S": "test_half_an_hour_of_silence_still_counts",
    "photics.day.logged_light.MISSING_MAX_H": "test_day_may_miss_an_hour",
    "photics.layout.grid_rule.LONG_RATIO": "test_long_tank_is_spaced_by_its_shorter_side",
    "photics.field.readings.MIN_READINGS": "test_fourth_spot_makes_a_map",
    "photics.field.summary.DISAGREE_LOG": "test_reading_disagrees_by_size_and_by_deviations",
    "photics.field.summary.DISAGREE_DEVIATIONS": "test_reading_disagrees_by_size_and_by_deviations",
    "photics.colour.alignment.SURE_PEAK": "test_alignment_is_sure_from_its_peak",
    "photics.causes.association.WITHIN_AGAINST": "test_within_a_tank_half_an_error_speaks_against",
    "photics.colour.coral_colour.PIXELS_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.REFERENCE_LIGHT_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.REGION_LIGHT_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.CLIPPED_SHARE_MAX": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.UNEVEN_MAX": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.WEAKEST_SHARE_MIN": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.WEAKEST_SHARE_TINTED": "test_photo_problem_from_its_bound",
    "photics.colour.coral_colour.BRIGHTEST": "test_photo_problem_from_its_bound",
}


@pytest.mark.parametrize("constant", sorted(HELD))
def test_constant_is_held_by_a_test(constant):
    module, _, name = constant.rpartition(".")
    assert hasattr(importlib.import_module(f"apps.{module}"), name)
    assert callable(globals().get(HELD[constant]))


# Outcomes


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
    found = found_factor(book, book.corals[0], draw.starts_on, tank.today())
    assert found == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("done", "as_planned"), [(0.912, True), (0.928, False), (0.688, True), (0.672, False)]
)
def test_step_within_its_slack_is_as_planned(stepped_book, tank, done, as_planned):
    draw, book_with = stepped_book
    row = coral_standing(book_with(d0=done), draw, tank.today())
    assert row.found_factor == pytest.approx(done, rel=1e-6)
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
    assert WaterRival(1, TODAY, "dose", "").reaches(TODAY + days * DAY) == reaches


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


# Corals


@pytest.mark.parametrize(
    ("low", "high", "word"),
    [
        (0.9951, 1.0049, "none"),
        (0.9949, 1.0049, "noise"),
        (0.9951, 1.0051, "noise"),
        (1.001, 1.0049, "none"),
        (1.001, 1.0051, "more"),
        (0.9949, 0.999, "less"),
        (1.0, 1.1, "noise"),
        (0.9, 1.0, "noise"),
    ],
)
def test_change_of_half_a_percent_is_none(low, high, word):
    assert way(None, None, low, high) == word


@pytest.mark.parametrize(
    ("steps", "real"),
    [(0, False), (1, False), (-1, False), (2, True), (-2, True)],
)
def test_two_steps_of_condition_are_real(steps, real):
    assert Change(steps).is_real == real


@pytest.mark.parametrize(("chroma", "grey"), [(5.9, True), (6.0, False)])
def test_little_chroma_is_grey(chroma, grey):
    assert (hue_words(100.0, chroma) == "nearly grey") == grey


# Planning


class DoubledLight:
    """Light of 100 until a moment, of 200 from it on."""

    def __init__(self, doubled_at):
        self.doubled_at = doubled_at

    def steps_between(self, start, end):
        return [self.doubled_at] if start < self.doubled_at < end else []

    def at(self, points, moment):
        par = 200.0 if moment >= self.doubled_at else 100.0
        return [SimpleNamespace(par_umol=par, dli_mol=None) for _ in points]


@pytest.mark.parametrize(("days_ago", "forgotten"), [(81, True), (79, False)])
def test_light_of_long_ago_is_forgotten(tank, days_ago, forgotten):
    coral = make_coral(tank)
    light = DoubledLight(NOW - days_ago * DAY)
    used = acclimated_light.used_to_par([coral], light, NOW, tank.zone)[coral.pk]
    assert (used == pytest.approx(200.0, abs=1e-9)) == forgotten
    assert used == pytest.approx(200.0, rel=0.02)


@pytest.mark.parametrize(("days", "has_a_say"), [(28, True), (29, False)])
def test_note_four_weeks_after_arriving_still_counts(days, has_a_say):
    note, last = SimpleNamespace(on=TODAY + days * DAY), SimpleNamespace(on=TODAY)
    began = dt.datetime(2026, 5, 1, tzinfo=dt.UTC)
    assert counts(note, last, began, began.date(), True) == has_a_say
    assert counts(note, last, began, began.date(), False)


def test_note_before_the_plan_has_no_say():
    began = dt.datetime(2026, 5, 2, tzinfo=dt.UTC)
    for day, has_a_say in ((1, False), (2, True)):
        note = SimpleNamespace(on=dt.date(2026, 5, day))
        assert counts(note, None, began, dt.date(2026, 5, 3), False) == has_a_say


@pytest.mark.parametrize(("away_cm", "taken"), [(4.9, True), (5.0, False)])
def test_place_beside_a_coral_is_taken(away_cm, taken):
    places = np.array([[30.0 + away_cm, 20.0, 10.0]])
    assert is_taken(places, np.array([[30.0, 20.0, 10.0], [90.0, 20.0, 10.0]]))[0] == taken


@pytest.mark.parametrize(("umol", "had"), [(100.4, True), (100.6, False)])
def test_light_just_over_the_most_is_still_had(umol, had):
    def settings():
        return share_settings(Acclimation.Means.SCREEN, np.array([umol]), 100.0, [])

    if had:
        assert settings()[0] <= 100.5
    else:
        with pytest.raises(NoWay):
            settings()


# Lighting


@pytest.mark.parametrize(
    ("value", "spoken"),
    [(0.5024, True), (0.5026, False), (0.4976, True), (0.4974, False)],
)
def test_factor_near_a_spoken_one_is_spoken(value, spoken):
    assert (factor_words(value) == factor_words(0.5)) == spoken
    assert "%" not in factor_words(0.5)


def told_change(factor_value, monkeypatch):
    monkeypatch.setattr(summary, "level_ratio", lambda before, after: 2.0)
    return summary.contradictions(SimpleNamespace(tells_rig=True, factor=factor_value), [], [])


# Levels that double the light: the factor is the same within 35 % of the doubling's logarithm.
@pytest.mark.parametrize(
    ("power", "twice"), [(0.66, True), (0.64, False), (1.34, True), (1.36, False)]
)
def test_factor_near_the_levels_is_told_twice(monkeypatch, power, twice):
    assert bool(told_change(2.0**power, monkeypatch)) == twice


@pytest.mark.parametrize(("log", "named"), [(-0.051, True), (-0.049, False), (0.051, False)])
def test_clearly_opposite_factor_is_named(monkeypatch, log, named):
    assert bool(told_change(float(np.exp(log)), monkeypatch)) == named


@pytest.mark.parametrize(
    ("second", "sound"), [(41.5, True), (41.6, False), (38.5, True), (38.4, False)]
)
def test_shares_may_be_off_by_rounding_only(second, sound):
    rows = [
        {"name": "A", "peak_nm": 450, "share_percent": 60},
        {"name": "B", "peak_nm": 480, "share_percent": second},
    ]
    if sound:
        check_channels(rows)
    else:
        with pytest.raises(ValidationError, match="sum to 100"):
            check_channels(rows)


# Surveys and tanks


def lit(half_width_percent):
    reach = half_width_percent
    return [SimpleNamespace(par_umol=100.0, low_umol=100.0 - reach, high_umol=100.0 + reach)]


def stale_reminders(monkeypatch, tank, *, then, wide):
    """Return the reminders of a map that was sure to ± then % and is to ± wide % by a change."""
    monkeypatch.setattr(reminders, "watched_points", lambda tank, survey: [])
    taken_at = NOW - 9 * DAY
    survey = SimpleNamespace(day=lambda: TODAY)
    change = SimpleNamespace(happened_at=NOW - DAY, summary="Dimmed")
    light = SimpleNamespace(
        map_for=lambda now: SimpleNamespace(taken_at=taken_at, survey=survey, survey_pk=1),
        at=lambda points, moment: lit(then if moment == taken_at else wide),
        history=SimpleNamespace(between=lambda start, end: [change]),
    )
    return list(reminders.map_reminders(tank, light, NOW))


@pytest.mark.parametrize(("wide", "stale"), [(24.9, False), (25.1, True)])
def test_map_is_stale_once_unsure(monkeypatch, tank, wide, stale):
    assert bool(stale_reminders(monkeypatch, tank, then=10.0, wide=wide)) == stale


@pytest.mark.parametrize(("wide", "stale"), [(49.9, False), (50.1, True)])
def test_map_is_stale_once_less_sure_than_it_was(monkeypatch, tank, wide, stale):
    assert bool(stale_reminders(monkeypatch, tank, then=40.0, wide=wide)) == stale


def tubes_due(tank, *, hours, daily):
    lamp = SimpleNamespace(key=1, number=1, fixture=SimpleNamespace(kind="tube", name="Tubes"))
    history = SimpleNamespace(
        lamps_at=lambda now: [lamp], ages_at=lambda now: {1: hours}, daily_hours=lambda *_: daily
    )
    return list(reminders.tube_reminders(tank, history, NOW))


@pytest.mark.parametrize(("hours", "days"), [(3300.0, 0), (3280.0, 2)])
def test_tubes_are_due_after_their_hours(tank, hours, days):
    (found,) = tubes_due(tank, hours=hours, daily=10.0)
    assert found.due_on == (NOW + days * DAY).astimezone(tank.zone).date()


@pytest.mark.parametrize(("hours", "foreseen"), [(0.0, True), (-70.0, False)])
def test_tubes_are_foreseen_ten_years(tank, hours, foreseen):
    # 3300 h at this pace are 3600 days, 70 h more are 3676.
    assert bool(tubes_due(tank, hours=hours, daily=3300.0 / 3600.0)) == foreseen


@pytest.mark.parametrize(("days", "fresh"), [(365, True), (366, False)])
def test_check_of_a_meter_holds_a_year(days, fresh):
    assert dt.timedelta(days=365) == CHECK_GOOD_FOR
    assert (Meter(checked_on=TODAY - days * DAY).check_told(TODAY) == "") == fresh


@pytest.mark.parametrize(("umol", "shown"), [(9.96, 10.0), (9.94, 9.9), (10.0, 10.0), (10.4, 10.0)])
def test_dim_light_has_a_decimal(umol, shown):
    assert round_par(umol) == shown


@pytest.mark.parametrize(
    ("cells", "counts_lines"),
    [("12", False), ("123", True), ("012", True), ("234", False), ("124", False)],
)
def test_third_line_makes_a_numbering(cells, counts_lines):
    assert is_numbering(list(cells)) == counts_lines


@pytest.mark.parametrize(("days", "shown"), [(14, True), (15, False)])
def test_reminder_shows_two_weeks_ahead(monkeypatch, tank, days, shown):
    day = NOW.astimezone(tank.zone).date() + days * DAY
    row = reminding.Reminder("tubes-1", day, "Replace the tubes", "They are old.")
    monkeypatch.setattr(reminding, "reminders_of", lambda tank, now: [row])
    assert bool(reminding.reminders_due(tank, NOW)) == shown


# Numbers


@pytest.mark.parametrize(("count", "known"), [(7, False), (8, True)])
def test_eighth_value_makes_a_range(count, known):
    assert (own_range(([5.0, 5.2] * 4)[:count]) is not None) == known


@pytest.mark.parametrize(
    ("deviations", "side"),
    [(2.99, "within"), (3.01, "above"), (-2.99, "within"), (-3.01, "below")],
)
def test_range_ends_at_three_deviations(deviations, side):
    # Neighbours 1.128 apart: a deviation of 1 about a middle of 0.
    assert own_range([0.564, -0.564] * 4).side(deviations) == side


@pytest.mark.parametrize(("count", "exact"), [(9, True), (10, False)])
def test_nine_values_are_counted_exactly(count, exact):
    assert rank_correlation(range(count), [1, 0, *range(2, count)]).exact == exact


@pytest.mark.parametrize("more", [0, 1])
def test_ranks_are_exact_up_to_their_most(more):
    assert rank_test([0.5, 3.5], np.arange(EXACT_MAX - 2 + more)).exact == (more == 0)


@pytest.mark.parametrize(("days", "known"), [([0, 30, 60], True), ([0, 30, 30], False)])
def test_third_day_makes_a_growth(days, known):
    assert (growth(days, [1.0, 1.1, 1.2], sd_log=[0.05] * 3) is not None) == known


@pytest.mark.parametrize(
    ("days", "known"),
    [([1, 2, 30, 31], True), ([2, 30, 31], False), ([1, 2, 31], False)],
)
def test_second_note_makes_a_gain(days, known):
    assert np.isfinite(start_gains(days, [1.0] * len(days), [10])[0]) == known


@pytest.mark.parametrize(("day", "known"), [(20, True), (19, False)])
def test_notes_count_from_the_tenth_day(day, known):
    assert np.isfinite(start_gains([8, 9, day, 30], [1.0] * 4, [10])[0]) == known


@pytest.mark.parametrize(("count", "known"), [(2, False), (3, True)])
def test_third_pair_makes_a_ratio(count, known):
    assert (ratio_of([100.0] * count, [110.0] * count) is not None) == known


@pytest.mark.parametrize(("umol", "passed_over"), [(2.0, 0), (1.9, 1)])
def test_pair_darker_than_two_is_passed_over(umol, passed_over):
    others = [100.0, 200.0, 300.0]
    assert ratio_of([*others, umol], [*others, 50.0]).passed_over == passed_over
    assert ratio_of([*others, 50.0], [*others, umol]).passed_over == passed_over


def weeks_of(rows):
    coral, day, dli = zip(*rows, strict=True)
    return tank_weeks(coral, ["t"] * len(rows), day, dli, [0.0] * len(rows))


@pytest.mark.parametrize(("apart", "rounds"), [(6.9, 1), (7.0, 2)])
def test_visits_a_week_apart_are_two_rounds(apart, rounds):
    assert len(weeks_of([("a", 0.0, 10.0), ("a", apart, 10.0)]).starts) == rounds


@pytest.mark.parametrize(("corals", "changed"), [(4, True), (5, False)])
def test_quarter_of_the_corals_is_the_tank(corals, changed):
    rows = [(k, day, 10.0) for day in (0.0, 10.0) for k in range(corals)]
    rows[corals] = (0, 10.0, 20.0)
    assert weeks_of(rows).changed.tolist() == [False, changed]


@pytest.mark.parametrize(("gap_s", "hours"), [(1800, 1.0), (1801, 0.5)])
def test_half_an_hour_of_silence_still_counts(gap_s, hours):
    found = logged_light([0, 1800, 1800 + gap_s], [100.0] * 3, start=0, end=3600)
    assert found.covered_hours == pytest.approx(hours)


@pytest.mark.parametrize(("covered", "whole"), [(23.0, True), (22.9, False)])
def test_day_may_miss_an_hour(covered, whole):
    assert LoggedLight(10.0, 300.0, covered, 24.0).is_whole == whole


@pytest.mark.parametrize(("length_cm", "by_longer"), [(200.0, True), (200.1, False)])
def test_long_tank_is_spaced_by_its_shorter_side(length_cm, by_longer):
    square = rule_grid(length_cm=100.0, width_cm=100.0).spacing_cm
    assert (rule_grid(length_cm=length_cm, width_cm=100.0).spacing_cm != square) == by_longer


@pytest.mark.parametrize(("last_cm", "enough"), [(30.6, True), (30.2, False)])
def test_fourth_spot_makes_a_map(last_cm, enough):
    tank = Tank(length_cm=60.0, width_cm=40.0, depth_cm=40.0)
    points = [(10.0, 10.0, 10.0), (20.0, 10.0, 20.0), (30.0, 10.0, 30.0), (last_cm, 10.0, 30.0)]
    par = np.array([100.0, 90.0, 80.0, 70.0])
    if enough:
        assert len(prepare_readings(np.array(points), par, None, tank).count) == 4
    else:
        with pytest.raises(NotEnoughReadings):
            prepare_readings(np.array(points), par, None, tank)


@pytest.mark.parametrize(
    ("misfit", "deviation", "odd"),
    [(0.24, 0.01, 0), (0.26, 0.01, 1), (-0.26, 0.01, 1), (0.29, 0.1, 0), (0.31, 0.1, 1)],
)
def test_reading_disagrees_by_size_and_by_deviations(misfit, deviation, odd):
    log_par = np.log([100.0, 200.0])
    readings = SimpleNamespace(
        log_par=log_par,
        own_log_par=log_par,
        place=np.array([0, 1]),
        notes=(),
    )
    model = SimpleNamespace(
        leave_one_out=lambda: (np.array([misfit, 0.0]), np.array([deviation] * 2)), notes=()
    )
    assert len(summarise(readings, model, True).disagreeing) == odd


@pytest.mark.parametrize(("peak", "sure"), [(24.9, False), (25.0, True)])
def test_alignment_is_sure_from_its_peak(peak, sure):
    assert Alignment(np.eye(2, 3), peak).sure == sure


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(("errors", "against"), [(-0.49, False), (-0.51, True)])
def test_within_a_tank_half_an_error_speaks_against(side, errors, against):
    # An interval of 1.96 errors of 1 to each side, in log.
    middle = side * errors
    found = SimpleNamespace(
        ratio_per_doubling=np.exp(side),
        within_ratio=np.exp(middle),
        within_low=np.exp(middle - 1.96),
        within_high=np.exp(middle + 1.96),
    )
    assert leans_against(found) == against


CARD = Light(np.full(3, 0.5), np.eye(3) * 1e-4, 0.1, 0.0, 1000)
CORAL = replace(CARD, rgb=np.full(3, 0.2))


@pytest.mark.parametrize(
    ("card", "coral", "key", "wrong"),
    [
        ({"n_pixels": 150}, {}, "reference_small", False),
        ({"n_pixels": 149}, {}, "reference_small", True),
        ({}, {"n_pixels": 150}, "region_small", False),
        ({}, {"n_pixels": 149}, "region_small", True),
        ({"clipped_share": 0.10}, {}, "reference_clipped", False),
        ({"clipped_share": 0.11}, {}, "reference_clipped", True),
        ({}, {"clipped_share": 0.10}, "region_clipped", False),
        ({}, {"clipped_share": 0.11}, "region_clipped", True),
        ({"rgb": np.full(3, 0.031)}, {}, "reference_dark", False),
        ({"rgb": np.full(3, 0.029)}, {}, "reference_dark", True),
        ({}, {"rgb": np.full(3, 0.0041)}, "region_dark", False),
        ({}, {"rgb": np.full(3, 0.0039)}, "region_dark", True),
        ({"rgb": np.array([0.101, 0.3, 0.5])}, {}, "too_blue", False),
        ({"rgb": np.array([0.099, 0.3, 0.5])}, {}, "too_blue", True),
        ({"rgb": np.array([0.101, 0.3, 0.5])}, {}, "tinted", True),
        ({"rgb": np.array([0.099, 0.3, 0.5])}, {}, "tinted", False),
        ({"rgb": np.array([0.249, 0.3, 0.5])}, {}, "tinted", True),
        ({"rgb": np.array([0.251, 0.3, 0.5])}, {}, "tinted", False),
        ({"scatter": 0.30}, {}, "reference_uneven", False),
        ({"scatter": 0.31}, {}, "reference_uneven", True),
        # 1.15 of a card of 0.90 is 1.278 of the card's light.
        ({}, {"rgb": np.full(3, 0.5 * 1.27)}, "brighter_than_white", False),
        ({}, {"rgb": np.full(3, 0.5 * 1.28)}, "brighter_than_white", True),
    ],
)
def test_photo_problem_from_its_bound(card, coral, key, wrong):
    assert (key in problems_of(replace(CARD, **card), replace(CORAL, **coral), 0.90)) == wrong


def test_object_of_unknown_reflectance_is_never_outshone():
    assert "brighter_than_white" not in problems_of(CARD, replace(CORAL, rgb=np.full(3, 0.9)), 0.50)
