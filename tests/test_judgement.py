"""Constants of judgement, each from both sides: just inside one answer, just outside the other.

`HELD` lists them with the test that holds each. Bounds of what may be typed (`photics.limits`) are
held beside their forms, those of the numbers in `tests/photics/test_judgement.py`, those of what
came of it in `tests/outcomes/test_judgement.py`.
"""

import datetime as dt
import importlib
from types import SimpleNamespace

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from apps.common.units import UNSURE_WORDS, plus_minus
from apps.corals.condition import Change
from apps.corals.coral.change_effect import way
from apps.corals.photos.colour_story import hue_words, sure_words
from apps.lighting import rezoned
from apps.lighting.change import summary
from apps.lighting.change.factor import factor_words
from apps.lighting.fixture.mixing import mix_for
from apps.lighting.optic_models import check_channels
from apps.lightmap.check import check_readings, reminders
from apps.lightmap.field_files import read_points
from apps.lightmap.page.map_page import MapPage
from apps.lightmap.page.why import round_par
from apps.lightmap.tank_json import FieldFileError
from apps.photics.colour.scales import Value
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
from tests.factories import make_coral

DAY = dt.timedelta(days=1)
NOW = timezone.now()
TODAY = dt.date(2026, 6, 30)

# Constant, without the "apps." before it: the test that holds it.
HELD = {
    "common.units.UNSURE_FROM_PERCENT": "test_an_interval_as_wide_as_its_value_is_no_figure",
    "corals.coral.change_effect.SAME_WITHIN": "test_change_of_half_a_percent_is_none",
    "corals.condition.REAL_STEPS": "test_two_steps_of_condition_are_real",
    "corals.photos.colour_story.CLEAR_FROM": "test_difference_is_clear_from_its_bound_on",
    "corals.photos.colour_story.GREY_CHROMA": "test_little_chroma_is_grey",
    "planning.acclimation.acclimated_light.LOOK_BACK": "test_light_of_long_ago_is_forgotten",
    "planning.acclimation.following.WATCH_DAYS": "test_note_four_weeks_after_arriving_still_counts",
    "planning.place.place.ELBOW_CM": "test_place_beside_a_coral_is_taken",
    "planning.acclimation.step_settings.SLACK": "test_light_just_over_the_most_is_still_had",
    "lighting.change.factor.SPOKEN_WITHIN": "test_factor_near_a_spoken_one_is_spoken",
    "lighting.change.summary.TWICE_WITHIN": "test_factor_near_the_levels_is_told_twice",
    "lighting.change.summary.OPPOSITE_FROM": "test_clearly_opposite_factor_is_named",
    "lighting.optic_models.SHARES_OFF_PERCENT": "test_shares_may_be_off_by_rounding_only",
    "lightmap.check.check_readings.THIRD_LEAVES": "test_third_spot_takes_off_a_tenth",
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
    "planning.layout.page.SERVED": "test_zone_is_served_from_four_fifths",
    "tanks.reminding.AHEAD": "test_reminder_shows_two_weeks_ahead",
}


@pytest.mark.parametrize("constant", sorted(HELD))
def test_constant_is_held_by_a_test(constant):
    module, _, name = constant.rpartition(".")
    assert hasattr(importlib.import_module(f"apps.{module}"), name)
    assert callable(globals().get(HELD[constant]))


# Corals


@pytest.mark.parametrize(("half_percent", "is_said"), [(99.9, True), (100.0, False)])
def test_an_interval_as_wide_as_its_value_is_no_figure(half_percent, is_said):
    assert (plus_minus(half_percent) != UNSURE_WORDS) == is_said


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


@pytest.mark.parametrize(("low", "words"), [(2.99, "probably"), (3.0, "clearly")])
def test_difference_is_clear_from_its_bound_on(low, words):
    assert sure_words(Value(8.0, low, 12.0)) == words


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


@pytest.mark.parametrize(("leaves", "count"), [(0.89, 3), (0.91, 2)])
def test_third_spot_takes_off_a_tenth(monkeypatch, leaves, count):
    spots = np.array([(10.0, 10.0, 10.0), (20.0, 20.0, 20.0), (30.0, 30.0, 30.0)])
    widths = {2: (20.0, 10.0), 3: (20.0, 10.0 * leaves)}
    monkeypatch.setattr(check_readings, "next_points", lambda *field_and_count, **named: spots)
    monkeypatch.setattr(
        check_readings, "typical_half_widths", lambda _, some, *rest, **named: widths[len(some)]
    )
    result = check_readings.best_spots(None, spots[:1], np.ones(1), 0)
    assert len(result.places) == count and result.after_percent == widths[count][1]


def stale_reminders(monkeypatch, tank, *, then, wide):
    """Return the reminders of a map that was sure to ± then % and is to ± wide % by a change."""
    monkeypatch.setattr(reminders, "watched_points", lambda tank, survey: [])
    taken_at = NOW - 9 * DAY
    survey = SimpleNamespace(day=lambda: TODAY)
    change = SimpleNamespace(happened_at=NOW - DAY, summary="Dimmed")
    light = SimpleNamespace(
        measured_map_for=lambda now: SimpleNamespace(taken_at=taken_at, survey=survey, survey_pk=1),
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


@pytest.mark.parametrize(("percent", "served"), [(80.0, True), (79.9, False)])
def test_zone_is_served_from_four_fifths(percent, served):
    assert ZoneLight.served.fget(SimpleNamespace(likely_percent=percent)) == served
