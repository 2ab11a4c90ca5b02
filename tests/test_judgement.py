"""Constants of judgement, each from both sides: just inside one answer, just outside the other.

`HELD` lists them with the test that holds each. Bounds of what may be typed (`photics.limits`) are
held beside their forms, those of the numbers in `tests/photics/test_judgement.py`.
"""

import datetime as dt
import importlib
from types import SimpleNamespace

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from apps.corals.condition import Change
from apps.corals.coral.change_effect import way
from apps.corals.photos.colour_story import hue_words
from apps.lighting import rezoned
from apps.lighting.change import summary
from apps.lighting.change.factor import factor_words
from apps.lighting.fixture.mixing import mix_for
from apps.lighting.optic_models import check_channels
from apps.lightmap.check import reminders
from apps.lightmap.field_files import read_points
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.map_page import MapPage
from apps.lightmap.page.why import round_par
from apps.lightmap.tank_json import FieldFileError
from apps.outcomes.association.comparison import most_together, verdict_of
from apps.outcomes.association.competing_causes import CompetingCause
from apps.outcomes.association.events import Direction, corals_with_notes, episodes
from apps.outcomes.association.verdict import joined
from apps.outcomes.association.weighing import still_affected
from apps.outcomes.exposure.exposure import LightBook
from apps.outcomes.pool import views as pool_views
from apps.outcomes.pool.pooling import pooled_curve, spread_out
from apps.outcomes.templatetags.outcomes import factor, more_than, percent
from apps.outcomes.trial.status import coral_status, judged, logged_factor, state_of
from apps.photics.causes.association import ENOUGH, UNSURE
from apps.photics.causes.start_trial import StartScore
from apps.photics.ground.scene import Tank
from apps.photics.layout.zone_light import ZoneLight
from apps.planning.acclimation import acclimated_light
from apps.planning.acclimation.following import counts
from apps.planning.acclimation.step_settings import UnreachableLight, share_settings
from apps.planning.models import Acclimation
from apps.planning.place.place import is_taken
from apps.surveys.meter_models import CHECK_GOOD_FOR, Meter
from apps.surveys.survey import views as survey_views
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
    "surveys.meter_models.CHECK_GOOD_FOR": "test_check_of_a_meter_holds_a_year",
    "lightmap.page.why.WHOLE_FROM_UMOL": "test_dim_light_has_a_decimal",
    "surveys.tables.headings.NUMBERING_LINES": "test_third_line_makes_a_numbering",
    "surveys.survey.views.SAME_LEVEL_PERCENT": "test_half_a_percent_of_level_is_the_same",
    "lightmap.field_files.OUTSIDE_CM": "test_place_in_a_file_may_lie_two_cm_outside",
    "lightmap.page.map_page.MANY_SHARE": "test_more_than_a_fifth_disagreeing_are_many",
    "lighting.rezoned.SAME_HOURS": "test_day_is_recut_by_more_than_seconds",
    "lighting.fixture.mixing.STILL": "test_channel_asked_nearly_as_before_stays",
    "outcomes.pool.views.HALF_ERROR_MAX": "test_half_way_is_sure_below_a_quarter",
    "planning.layout.page.SERVED": "test_zone_is_served_from_four_fifths",
    "tanks.reminding.AHEAD": "test_reminder_shows_two_weeks_ahead",
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
    used = acclimated_light.acclimated_par([coral], light, NOW, tank.zone)[coral.pk]
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
        with pytest.raises(UnreachableLight):
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
    assert (Meter(checked_on=TODAY - days * DAY).check_caution(TODAY) == "") == fresh


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


@pytest.mark.parametrize(
    ("level", "same"), [(0.646, True), (0.644, False), (0.654, True), (0.656, False)]
)
def test_half_a_percent_of_level_is_the_same(monkeypatch, level, same):
    lamp = SimpleNamespace(level=level, name="Bar")
    history = SimpleNamespace(rig_at=lambda moment: [lamp])
    monkeypatch.setattr(survey_views, "light_history", lambda tank: history)
    survey = SimpleNamespace(level_percent=65, tank=None, taken_at=NOW)
    assert (survey_views._fixture_at_that_level(survey) == "Bar") == same


@pytest.mark.parametrize(
    ("x_cm", "sound"), [(62.0, True), (62.1, False), (-2.0, True), (-2.1, False)]
)
def test_place_in_a_file_may_lie_two_cm_outside(tmp_path, x_cm, sound):
    path = tmp_path / "points.csv"
    path.write_text(f"x_cm,y_cm,depth_cm\n{x_cm},10,10\n")
    tank = Tank(length_cm=60.0, width_cm=40.0, depth_cm=40.0)
    if sound:
        assert read_points(str(path), tank).tolist() == [[x_cm, 10.0, 10.0]]
    else:
        with pytest.raises(FieldFileError, match="outside the tank"):
            read_points(str(path), tank)


@pytest.mark.parametrize(("count", "many"), [(2, False), (3, True)])
def test_more_than_a_fifth_disagreeing_are_many(count, many):
    map_page = SimpleNamespace(disagreeing=[None] * count, rows=[None] * 10)
    assert MapPage.many_disagree.fget(map_page) == many


@pytest.mark.parametrize(("hours", "cut"), [(10.004, False), (10.006, True), (9.994, True)])
def test_day_is_recut_by_more_than_seconds(monkeypatch, hours, cut):
    monkeypatch.setattr(rezoned, "full_hours", lambda history, day, zone: history)
    rezoning = SimpleNamespace(before=None, after=None)
    told = rezoned.recut_words(10.0, hours, rezoning, [TODAY])
    assert told.startswith("1 day gets") == cut


@pytest.mark.parametrize(("percent", "still"), [(60.05, True), (60.06, False)])
def test_channel_asked_nearly_as_before_stays(percent, still):
    channels = [
        {"name": "Blue", "peak_nm": 450, "share_percent": 50},
        {"name": "Violet", "peak_nm": 420, "share_percent": 50},
    ]
    mix = mix_for(SimpleNamespace(channels=channels), [60, 60], [percent, 60])
    assert (mix.levels == (0.6, 0.6)) == still


@pytest.mark.parametrize(("error", "sure"), [(0.249, True), (0.251, False)])
def test_half_way_is_sure_below_a_quarter(monkeypatch, error, sure):
    found = SimpleNamespace(standard_errors=(0, 0, 0, 2.0 * error), half=2.0)
    monkeypatch.setattr(pool_views, "fit_log_logistic", lambda *args, **kwargs: found)
    bins = [
        SimpleNamespace(middle_log2=m, share=SimpleNamespace(value=0.1, number=9)) for m in (0, 2)
    ]
    assert (pool_views.half_way(bins) is found) == sure


@pytest.mark.parametrize(("percent", "served"), [(80.0, True), (79.9, False)])
def test_zone_is_served_from_four_fifths(percent, served):
    assert ZoneLight.served.fget(SimpleNamespace(in_band_percent=percent)) == served


@pytest.mark.parametrize(
    ("days", "state"), [(-1, "waiting"), (0, "running"), (9, "running"), (10, "done")]
)
def test_trial_runs_from_its_first_day_to_its_last(days, state):
    trial = SimpleNamespace(stopped_on=None, began_on=TODAY, ends_on=TODAY + 9 * DAY)
    assert state_of(trial, None, TODAY + days * DAY) == state
