"""What the map page is made of: facts with known answers, the survey chosen, the address."""

import datetime as dt

import numpy as np
import pytest
from django.http import QueryDict
from django.utils import timezone

from apps.lighting.history import light_history
from apps.lightmap.lightmap import ShownField, fit_survey
from apps.lightmap.page.query import Asked
from apps.lightmap.page.sheet import light_map_sheet, plane_facts
from apps.lightmap.pins import Pin
from apps.photics.ground.estimate import GridEstimate
from apps.photics.ground.scene import Rock
from tests.factories import make_light_change, make_lit_survey, make_rock, make_survey

NOW = timezone.now()


def asked(tank, text="", unit="cm"):
    return Asked.read(QueryDict(text), tank=tank, unit=unit)


def sheet_of(tank, text="", pins=(), unit="cm"):
    return light_map_sheet(tank, asked(tank, text, unit), unit=unit, pins=pins)


def field_of(survey):
    return fit_survey(survey, light_history(survey.tank)).field


def tilted_grid(rock=None):
    """Return a plane that rises from 0 to 100 along x, the same for every y, known to a tenth."""
    par = np.broadcast_to(np.linspace(0, 100, 101), (11, 101))
    x, y = np.meshgrid(np.linspace(0, 100, 101), np.linspace(0, 50, 11))
    in_rock = rock.holds(x, y, 10.0) if rock else np.zeros(par.shape, bool)
    return GridEstimate(
        np.linspace(0, 100, 101), np.linspace(0, 50, 11), 10.0,
        par, par * 0.9, par * 1.1, par > 75, in_rock,
    )  # fmt: skip


def test_facts_of_a_tilted_plane():
    facts = plane_facts(tilted_grid(), 20, 60)
    assert (facts.min_umol, facts.max_umol) == (0, 100)
    assert facts.mean_umol == pytest.approx(50)
    # 41 of 100 cells' worth of nodes lie from 20 to 60, both ends counted.
    assert facts.in_band_percent == pytest.approx(41)


def test_share_is_framed_by_the_sure_and_the_possible_share():
    facts = plane_facts(tilted_grid(), 20, 60)
    assert facts.surely_percent < facts.in_band_percent < facts.perhaps_percent
    # Sure: 0.9 x >= 20 and 1.1 x <= 60, so x from 23 to 54.
    assert facts.surely_percent == pytest.approx(32)


def test_share_beyond_the_readings():
    # 24 whole nodes and the wall's half one of 100.
    assert plane_facts(tilted_grid(), 20, 60).beyond_percent == pytest.approx(24.5)


def test_inside_of_a_rock_counts_for_nothing():
    # The grid rises from 0 to 100 along x: a rock over its dim half leaves 50 and more.
    rock = Rock(-1, -1, 0, 51, 300, 300)
    facts = plane_facts(tilted_grid(rock), 20, 60)
    assert facts.min_umol == 50 and facts.max_umol == 100


def test_plane_full_of_rock_is_still_told():
    facts = plane_facts(tilted_grid(Rock(-1, -1, 0, 300, 300, 300)), 20, 60)
    assert facts.mean_umol == pytest.approx(50)


def test_newest_survey_with_a_map_is_shown(tank):
    old = make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_survey(tank, taken_at=NOW - dt.timedelta(days=1), readings=[(10, 10, 10, 50)])
    sheet = sheet_of(tank)
    assert sheet.survey == old and sheet.newer_exists and sheet.plan


def test_survey_asked_for_is_shown_even_without_a_map(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    few = make_survey(tank, taken_at=NOW - dt.timedelta(days=1), readings=[(10, 10, 10, 50)])
    sheet = sheet_of(tank, f"survey={few.pk}")
    assert sheet.survey == few and sheet.plan is None and "4 different spots" in sheet.problem


def test_change_since_shows_today_unless_asked(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=5), factor=0.5)
    today, measured = sheet_of(tank), sheet_of(tank, "shown=measured")
    assert today.shown == "today" and measured.shown == "measured"
    assert today.facts.mean_umol == pytest.approx(measured.facts.mean_umol / 2)


def test_older_survey_is_shown_as_measured(tank):
    old = make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=5), factor=0.5)
    make_survey(tank, taken_at=NOW - dt.timedelta(days=1))
    assert sheet_of(tank, f"survey={old.pk}").shown == "measured"


def test_change_before_the_survey_does_not_count(tank):
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=30), factor=0.5)
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    sheet = sheet_of(tank, "shown=today")
    assert sheet.changes == () and sheet.shown == "measured"


def test_prediction_for_today_is_less_sure(tank):
    survey = make_survey(tank)
    field = field_of(survey)
    plain, moved = ShownField(field, 1.0, 0), ShownField(field, 0.5, 1)
    before, after = plain.at([(30, 30, 25)]), moved.at([(30, 30, 25)])
    assert after.par_umol == pytest.approx(before.par_umol / 2)
    assert after.high_umol / after.low_umol > before.high_umol / before.low_umol


def test_shown_as_measured_is_the_field_itself(tank):
    field = field_of(make_survey(tank))
    found, plain = ShownField(field, 1.0, 0).grid(20, 10), field.grid(20, 10)
    assert found.low_umol == pytest.approx(plain.low_umol)
    assert found.high_umol == pytest.approx(plain.high_umol)


def test_colours_mean_the_same_at_every_depth(tank):
    make_survey(tank)
    top, deep = sheet_of(tank, "depth=5"), sheet_of(tank, "depth=45")
    assert top.legend == deep.legend and len(top.legend) >= 6
    colours = {cell.colour for cell in top.legend}
    assert {colour for _, colour in top.plan.bands + deep.plan.bands} <= colours


def test_level_and_meter_bring_readings_to_the_peak(tank):
    make_survey(tank, level_percent=50, correction_factor=1.2)
    first = sheet_of(tank).rows[0]
    reading = tank.surveys.get().readings.first()
    assert first.peak_umol == pytest.approx(reading.value_umol * 2.4)


def test_reading_near_the_plane_is_told_from_those_beside_it(tank):
    make_survey(tank)
    plan = sheet_of(tank, "depth=10").plan
    assert (plan.dots_here.count("M"), plan.dots_away.count("M")) == (9, 18)


def test_rock_is_here_only_where_the_plane_meets_it(tank):
    make_survey(tank)
    make_rock(tank, depth_cm=30, height_cm=20)
    assert [here for _, here in sheet_of(tank, "depth=10").plan.rocks] == [False]
    assert [here for _, here in sheet_of(tank, "depth=35").plan.rocks] == [True]


def test_rock_taken_away_is_drawn_no_more(tank):
    make_survey(tank)
    make_rock(tank).remove()
    drawn = sheet_of(tank)
    assert drawn.plan.rocks == drawn.section.rocks == ()


def test_pin_has_the_light_of_its_own_depth(tank):
    make_survey(tank)
    pins = (Pin("Acan", 30, 30, 40, band_low_umol=1000, band_high_umol=1200),)
    (found,) = sheet_of(tank, "depth=10", pins=pins).pins
    field = field_of(tank.surveys.get())
    assert found.par_umol == pytest.approx(field.at([(30, 30, 40)]).par_umol[0])
    assert found.state.words == "below its band"


def test_readout_answers_what_the_field_says(tank):
    make_survey(tank)
    told = sheet_of(tank, "depth=20").plan.readout
    grid = field_of(tank.surveys.get()).grid(20, 60 / 30)
    assert (told["rows"], told["columns"]) == grid.par_umol.shape
    # Written to tenths.
    assert told["par"] == pytest.approx(grid.par_umol.ravel().tolist(), abs=0.051)


def test_address_of_a_view_asks_for_the_same_view_in_the_other_unit(tank):
    make_survey(tank)
    sheet = sheet_of(tank, "depth=10&y=5&low=20&high=90", unit="in")
    again = asked(tank, sheet.query, unit="cm")
    assert again.depth_cm == pytest.approx(25.4) and again.y_cm == pytest.approx(12.7)
    assert (again.band_low_umol, again.band_high_umol) == (20, 90)


def test_length_with_its_unit_is_understood(tank):
    assert asked(tank, "depth=12,5").depth_cm == 12.5
    assert asked(tank, "depth=10in").depth_cm == pytest.approx(25.4)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("depth=deep", "Depth"),
        ("depth=99", "0 to 50 cm"),
        ("y=-3", "0 to 60 cm"),
    ],
)
def test_wish_that_cannot_be_met_is_told(tank, text, told):
    assert told in " ".join(asked(tank, text).problems)


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [
        ("a", "3", "not a number"),
        ("300", "100", "second end must be above the first"),
        ("30", "", "number"),
        ("nan", "inf", "number"),
        ("1", "99999", "between 1 and 2000"),
    ],
)
def test_band_that_is_none_is_told_and_kept_as_typed(tank, low, high, told):
    make_survey(tank)
    sheet = sheet_of(tank, f"low={low}&high={high}")
    assert told in sheet.asked.band_problem
    again = asked(tank, sheet.query)
    assert again.band_texts == (low, high)


@pytest.mark.parametrize("survey", ["x", "-1", "9" * 40, "²"])
def test_unreadable_survey_is_no_wish(tank, survey):
    assert asked(tank, f"survey={survey}").survey_pk is None


def test_preset_sets_the_band(tank):
    found = asked(tank, "preset=sps&low=1&high=2")
    assert (found.band_low_umol, found.band_high_umol) == (200, 350)


# --- Rock ---------------------------------------------------------------------------------------

BESIDE_ROCK = "depth=35&y=30"


def test_drawing_and_explanation_agree_beside_rock(tank):
    make_lit_survey(tank)
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=30, length_cm=20, width_cm=20, height_cm=20)
    sheet = sheet_of(tank, BESIDE_ROCK)
    told = sheet.plan.readout
    par = np.array(told["par"], float).reshape(told["rows"], told["columns"])
    x = np.linspace(0, tank.length_cm, told["columns"])
    y = np.linspace(0, tank.width_cm, told["rows"])
    in_water = np.argwhere(~np.isnan(par))
    near = [(j, i) for j, i in in_water if 12 <= x[i] <= 48 and 12 <= y[j] <= 48]
    points = [(x[i], y[j], 35.0) for j, i in near]
    exact = sheet.shown_field.at(points).par_umol
    # The drawing's numbers are rounded to a tenth.
    assert np.abs([par[j, i] for j, i in near] - exact).max() < 0.051


def test_nodes_within_rock_say_nothing(tank):
    make_lit_survey(tank)
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=30, length_cm=20, width_cm=20, height_cm=20)
    told = sheet_of(tank, BESIDE_ROCK).plan.readout
    middle = (told["rows"] // 2) * told["columns"] + told["columns"] // 2
    assert told["par"][middle] is None and told["rocks"] == [[20, 40, 20, 40]]
    assert None not in sheet_of(tank, "depth=20&y=30").plan.readout["par"]


def test_value_table_and_pin_name_the_rock(tank):
    make_lit_survey(tank)
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=30, length_cm=20, width_cm=20, height_cm=20)
    pins = (Pin("Acan", 30, 30, 40, band_low_umol=10, band_high_umol=1200),)
    sheet = sheet_of(tank, BESIDE_ROCK, pins=pins)
    assert any(cell["in_rock"] for _, cells in sheet.table for cell in cells)
    assert sheet.pins[0].in_rock and sheet.pins[0].state.key == "unknown"


# --- Levels -------------------------------------------------------------------------------------


def test_every_plane_of_a_lit_tank_has_lines(tank):
    make_lit_survey(tank)
    for depth in (0, 5, 15, 25, 35, 45, 50):
        assert len(sheet_of(tank, f"depth={depth}").plan.lines) >= 2, depth


# --- Surveys made beforehand --------------------------------------------------------------------


def test_survey_without_readings_is_not_the_light_of_today(tank):
    old = make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=10), factor=0.5)
    make_survey(tank, readings=[])
    sheet = sheet_of(tank)
    assert sheet.survey == old and sheet.shown == "today" and not sheet.newer_exists


def test_survey_without_readings_says_so_when_asked_for(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    empty = make_survey(tank, readings=[])
    sheet = sheet_of(tank, f"survey={empty.pk}")
    assert sheet.survey == empty and "no readings yet" in sheet.problem
