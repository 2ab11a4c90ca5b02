"""What the map page is made of: facts with known answers, the survey chosen, the address."""

import datetime as dt
from dataclasses import FrozenInstanceError

import numpy as np
import pytest
from django.http import QueryDict
from django.utils import timezone

from apps.drawing.cut import CELLS
from apps.lighting.history import light_history
from apps.lightmap.page.drawn_page import with_planes
from apps.lightmap.page.map_page import map_page
from apps.lightmap.page.planes import plane_facts
from apps.lightmap.page.query import MapQuery
from apps.lightmap.pins import Pin
from apps.lightmap.shown_field import ShownField
from apps.lightmap.survey_map import fit_survey
from apps.photics.ground.estimate import GridEstimate
from apps.photics.ground.scene import Rock
from tests.factories import (
    make_light_change,
    make_lit_survey,
    make_meter,
    make_meter_check,
    make_rock,
    make_survey,
)

NOW = timezone.now()


def query_of(tank, text="", unit="cm"):
    return MapQuery.read(QueryDict(text), tank=tank, unit=unit)


def page_of(tank, text="", pins=(), unit="cm"):
    return with_planes(map_page(tank, query_of(tank, text, unit), unit=unit), pins)


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
    facts = plane_facts(tilted_grid(), low_umol=20, high_umol=60)
    assert (facts.min_umol, facts.max_umol) == (0, 100)
    assert facts.mean_umol == pytest.approx(50)
    # 41 of 100 cells' worth of nodes lie from 20 to 60, both ends counted.
    assert facts.in_band_percent == pytest.approx(41)


def test_share_is_framed_by_the_sure_and_the_possible_share():
    facts = plane_facts(tilted_grid(), low_umol=20, high_umol=60)
    assert facts.surely_percent < facts.in_band_percent < facts.perhaps_percent
    # Sure: 0.9 x >= 20 and 1.1 x <= 60, so x from 23 to 54.
    assert facts.surely_percent == pytest.approx(32)


def test_share_beyond_the_readings():
    # 24 whole nodes and the wall's half one of 100.
    assert plane_facts(tilted_grid(), low_umol=20, high_umol=60).beyond_percent == pytest.approx(
        24.5
    )


def test_inside_of_a_rock_counts_for_nothing():
    # The grid rises from 0 to 100 along x: a rock over its dim half leaves 50 and more.
    rock = Rock(-1, -1, 0, 51, 300, 300)
    facts = plane_facts(tilted_grid(rock), low_umol=20, high_umol=60)
    assert facts.min_umol == 50 and facts.max_umol == 100


def test_plane_full_of_rock_is_still_told():
    facts = plane_facts(tilted_grid(Rock(-1, -1, 0, 300, 300, 300)), low_umol=20, high_umol=60)
    assert facts.mean_umol == pytest.approx(50)


@pytest.mark.parametrize(
    ("meter", "check", "source"),
    [
        ({"uncertainty_percent": 5, "uncertainty_from": "usual"}, False, "usual for its kind"),
        ({"uncertainty_percent": 4}, False, "as stated"),
        ({"uncertainty_percent": 5, "uncertainty_from": "usual"}, True, "by its checks"),
    ],
)
def test_the_map_says_where_the_meters_uncertainty_is_from(tank, owner, meter, check, source):
    made = make_meter(owner, **meter)
    if check:
        make_meter_check(made)
    make_survey(tank, meter=made)
    page = page_of(tank)
    assert page.meter_source.startswith(source) and page.meter_percent > 0


def test_many_pins_are_drawn_small(tank):
    make_survey(tank)
    few, many = (
        [Pin(f"Coral {k}", 5.0 + 3 * k, 20.0, 20.0) for k in range(count)] for count in (15, 16)
    )
    assert not page_of(tank, pins=few).planes.plan.is_crowded
    assert page_of(tank, pins=many).planes.section.is_crowded


def sloping_level(par, own_log, common_log):
    """Return a level of PAR along x alone, its interval of an own and a common half width."""
    par = np.tile(np.asarray(par, float), (3, 1))
    half = np.hypot(own_log, common_log)
    flat = np.zeros(par.shape, bool)
    x, y = np.arange(par.shape[1], dtype=float), np.arange(3.0)
    return GridEstimate(x, y, 10.0, par, par * np.exp(-half), par * np.exp(half), flat, flat)


def test_what_all_points_share_moves_the_level_as_one():
    """PAR 80 to 120, all off alike by a tenth: brighter or dimmer, one end leaves 90 to 110.

    By hand, outer nodes for half: as it is 90, 100 and 110 lie within, 3 of 4; a tenth up 99 and
    110, 2 of 4. Point by point only 100 is surely within, and all but 80 perhaps.
    """
    common = np.log(1.1) + 1e-9
    level = sloping_level([80, 90, 100, 110, 120], 0.0, common)
    band = {"low_umol": 90, "high_umol": 110 + 1e-6}
    apart = plane_facts(level, **band)
    together = plane_facts(level, **band, common_log=common)
    assert (apart.surely_percent, apart.perhaps_percent) == pytest.approx((25, 87.5))
    assert together.in_band_percent == pytest.approx(75)
    assert together.surely_percent == pytest.approx(50)
    assert together.perhaps_percent == pytest.approx(75)


def test_without_a_common_part_shares_are_as_before():
    level = sloping_level([80, 90, 100, 110, 120], 0.05, 0.0)
    band = {"low_umol": 85, "high_umol": 115}
    assert plane_facts(level, **band) == plane_facts(level, **band, common_log=0.0)


def test_newest_survey_with_a_map_is_shown(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    # One reading is a survey too: it joins those before it.
    one = make_survey(tank, taken_at=NOW - dt.timedelta(days=1), readings=[(10, 10, 10, 50)])
    page = page_of(tank)
    assert page.survey == one and not page.chosen.newer_exists and page.planes


def test_survey_too_small_to_start_anew_is_passed_over(tank):
    old = make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_survey(
        tank,
        taken_at=NOW - dt.timedelta(days=1),
        readings=[(10, 10, 10, 50)],
        starts_anew=True,
    )
    page = page_of(tank)
    assert page.survey == old and page.chosen.newer_exists and page.planes


def test_survey_asked_for_is_shown_even_without_a_map(tank):
    few = make_survey(tank, taken_at=NOW - dt.timedelta(days=20), readings=[(10, 10, 10, 50)])
    make_survey(tank, taken_at=NOW - dt.timedelta(days=1))
    page = page_of(tank, f"survey={few.pk}")
    assert page.survey == few and page.planes is None and "4 different spots" in page.problem


def test_change_since_shows_today_unless_asked(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=5), factor=0.5)
    today, measured = page_of(tank), page_of(tank, "shown=measured")
    assert today.light.shown == "today" and measured.light.shown == "measured"
    assert today.facts.mean_umol == pytest.approx(measured.facts.mean_umol / 2)


def test_older_survey_is_shown_as_measured(tank):
    old = make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=5), factor=0.5)
    make_survey(tank, taken_at=NOW - dt.timedelta(days=1))
    assert page_of(tank, f"survey={old.pk}").light.shown == "measured"


def test_change_before_the_survey_does_not_count(tank):
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=30), factor=0.5)
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    page = page_of(tank, "shown=today")
    assert page.light.changes == () and page.light.shown == "measured"


def test_prediction_for_today_is_less_sure(tank):
    survey = make_survey(tank)
    field = field_of(survey)
    plain, moved = ShownField(field, 1.0, 0), ShownField(field, 0.5, 1)
    before, after = plain.at([(30, 30, 25)]), moved.at([(30, 30, 25)])
    assert after.par_umol == pytest.approx(before.par_umol / 2)
    assert after.high_umol / after.low_umol > before.high_umol / before.low_umol


def test_shown_as_measured_is_the_field_itself(tank):
    field = field_of(make_survey(tank))
    shown, plain = ShownField(field, 1.0, 0).grid(20, 10), field.grid(20, 10)
    assert shown.low_umol == pytest.approx(plain.low_umol)
    assert shown.high_umol == pytest.approx(plain.high_umol)


def test_colours_mean_the_same_at_every_depth(tank):
    make_survey(tank)
    top, deep = page_of(tank, "depth=5"), page_of(tank, "depth=45")
    assert top.planes.legend == deep.planes.legend and len(top.planes.legend.cells) >= 6
    colours = {cell.colour for cell in top.planes.legend.cells}
    assert {
        colour for _, colour in top.planes.plan.light.bands + deep.planes.plan.light.bands
    } <= colours


def test_level_and_meter_bring_readings_to_the_peak(tank):
    make_survey(tank, level_percent=50, correction_factor=1.2)
    first = page_of(tank).rows[0]
    reading = tank.surveys.get().readings.first()
    assert first.peak_umol == pytest.approx(reading.value_umol * 2.4)


def test_reading_near_the_plane_is_told_from_those_beside_it(tank):
    make_survey(tank)
    plan = page_of(tank, "depth=10").planes.plan
    assert (plan.dots.here.count("M"), plan.dots.away.count("M")) == (9, 18)


def test_rock_is_here_only_where_the_plane_meets_it(tank):
    make_survey(tank)
    make_rock(tank, depth_cm=30, height_cm=20)
    assert [here for _, here in page_of(tank, "depth=10").planes.plan.rocks] == [False]
    assert [here for _, here in page_of(tank, "depth=35").planes.plan.rocks] == [True]


def test_rock_taken_away_is_drawn_no_more(tank):
    make_survey(tank)
    make_rock(tank).remove()
    drawn = page_of(tank)
    assert drawn.planes.plan.rocks == drawn.planes.section.rocks == ()


def test_pin_has_the_light_of_its_own_depth(tank):
    make_survey(tank)
    pins = (Pin("Acan", 30, 30, 40, band_low_umol=1000, band_high_umol=1200),)
    (lit,) = page_of(tank, "depth=10", pins=pins).planes.pin_lights
    field = field_of(tank.surveys.get())
    assert lit.par_umol == pytest.approx(field.at([(30, 30, 40)]).par_umol[0])
    assert lit.state.words == "below its band"


def test_readout_answers_what_the_field_says(tank):
    make_survey(tank)
    readout = page_of(tank, "depth=20").planes.plan.readout
    grid = field_of(tank.surveys.get()).grid(20, 60 / CELLS)
    assert (readout["rows"], readout["columns"]) == grid.par_umol.shape
    # Written to tenths.
    assert readout["par"] == pytest.approx(grid.par_umol.ravel().tolist(), abs=0.051)


def test_address_of_a_view_asks_for_the_same_view_in_the_other_unit(tank):
    make_survey(tank)
    page = page_of(tank, "depth=10&y=5&low=20&high=90", unit="in")
    again = query_of(tank, page.address, unit="cm")
    assert again.depth_cm == pytest.approx(25.4) and again.y_cm == pytest.approx(12.7)
    assert (again.band.low_umol, again.band.high_umol) == (20, 90)


def test_length_with_its_unit_is_understood(tank):
    assert query_of(tank, "depth=12,5").depth_cm == 12.5
    assert query_of(tank, "depth=10in").depth_cm == pytest.approx(25.4)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("depth=deep", "Depth"),
        ("depth=99", "0 to 50 cm"),
        ("y=-3", "0 to 60 cm"),
    ],
)
def test_wish_that_cannot_be_met_is_told(tank, text, problem):
    assert problem in " ".join(query_of(tank, text).problems)


@pytest.mark.parametrize(
    ("low", "high", "problem"),
    [
        ("a", "3", "not a number"),
        ("300", "100", "second end must be above the first"),
        ("30", "", "number"),
        ("nan", "inf", "number"),
        ("1", "99999", "between 1 and 2000"),
    ],
)
def test_band_that_is_none_is_told_and_kept_as_typed(tank, low, high, problem):
    make_survey(tank)
    page = page_of(tank, f"low={low}&high={high}")
    assert problem in page.query.band.problem
    again = query_of(tank, page.address)
    assert again.band.texts == (low, high)


@pytest.mark.parametrize("survey", ["x", "-1", "9" * 40, "²"])
def test_unreadable_survey_is_no_wish(tank, survey):
    assert query_of(tank, f"survey={survey}").survey_pk is None


def test_preset_sets_the_band(tank):
    query = query_of(tank, "preset=sps&low=1&high=2")
    assert (query.band.low_umol, query.band.high_umol) == (200, 350)


# --- Rock ---------------------------------------------------------------------------------------

BESIDE_ROCK = "depth=35&y=30"


def test_drawing_and_explanation_agree_beside_rock(tank):
    make_lit_survey(tank)
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=30, length_cm=20, width_cm=20, height_cm=20)
    page = page_of(tank, BESIDE_ROCK)
    readout = page.planes.plan.readout
    par = np.array(readout["par"], float).reshape(readout["rows"], readout["columns"])
    x = np.linspace(0, tank.length_cm, readout["columns"])
    y = np.linspace(0, tank.width_cm, readout["rows"])
    in_water = np.argwhere(~np.isnan(par))
    near = [(j, i) for j, i in in_water if 12 <= x[i] <= 48 and 12 <= y[j] <= 48]
    points = [(x[i], y[j], 35.0) for j, i in near]
    exact = page.light.field.at(points).par_umol
    # The drawing's numbers are rounded to a tenth.
    assert np.abs([par[j, i] for j, i in near] - exact).max() < 0.051


def test_nodes_within_rock_say_nothing(tank):
    make_lit_survey(tank)
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=30, length_cm=20, width_cm=20, height_cm=20)
    readout = page_of(tank, BESIDE_ROCK).planes.plan.readout
    middle = (readout["rows"] // 2) * readout["columns"] + readout["columns"] // 2
    assert readout["par"][middle] is None and readout["rocks"] == [[20, 40, 20, 40]]
    assert None not in page_of(tank, "depth=20&y=30").planes.plan.readout["par"]


def test_value_table_and_pin_name_the_rock(tank):
    make_lit_survey(tank)
    make_rock(tank, x_cm=20, y_cm=20, depth_cm=30, length_cm=20, width_cm=20, height_cm=20)
    pins = (Pin("Acan", 30, 30, 40, band_low_umol=10, band_high_umol=1200),)
    page = page_of(tank, BESIDE_ROCK, pins=pins)
    assert any(cell["in_rock"] for _, cells in page.table.rows for cell in cells)
    assert page.planes.pin_lights[0].in_rock and page.planes.pin_lights[0].state.key == "unknown"


# --- Levels -------------------------------------------------------------------------------------


def test_every_plane_of_a_lit_tank_has_lines(tank):
    make_lit_survey(tank)
    for depth in (0, 5, 15, 25, 35, 45, 50):
        assert len(page_of(tank, f"depth={depth}").planes.plan.light.lines) >= 2, depth


# --- Surveys made beforehand --------------------------------------------------------------------


def test_survey_without_readings_is_not_the_light_of_today(tank):
    old = make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    make_light_change(tank, happened_at=NOW - dt.timedelta(days=10), factor=0.5)
    make_survey(tank, readings=[])
    page = page_of(tank)
    assert page.survey == old and page.light.shown == "today" and not page.chosen.newer_exists


def test_survey_without_readings_says_so_when_asked_for(tank):
    make_survey(tank, taken_at=NOW - dt.timedelta(days=20))
    empty = make_survey(tank, readings=[])
    page = page_of(tank, f"survey={empty.pk}")
    assert page.survey == empty and "no readings yet" in page.problem


def test_what_was_answered_can_be_changed_by_nobody(tank):
    make_lit_survey(tank)
    page = page_of(tank)
    for record, name in ((page, "view"), (page.query, "depth_cm"), (page.light, "shown")):
        with pytest.raises(FrozenInstanceError):
            setattr(record, name, None)
