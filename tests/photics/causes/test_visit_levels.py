"""Levels of single visits: new corals, hands, eyes, water, seasons; and late effects."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.fft import dct

from apps.photics.causes.association import ENOUGH, POINTS, Ground, light_association
from apps.photics.causes.conditional_logit import fit_conditional
from apps.photics.causes.delay import kernel
from apps.photics.causes.exposure import coral_exposure, log2_ratio_before
from apps.photics.causes.judgement import tenths
from apps.photics.causes.shock_model import ShockModel
from apps.photics.causes.tank_weeks import tank_weeks
from apps.photics.causes.visit_levels import (
    days_of_visits,
    keeper_columns,
    visit_levels,
    with_waves,
)
from tests.benchmarks.worlds import World, simulate

HARMED = World(move_share=0.8, move_rise_log2=0.8, handling_factor=8, tanks=4)
CAME = World(arrive_share=0.7, arrival_factor=8, tanks=4)


def columns(notes):
    return [notes.coral, notes.tank, notes.day, notes.dli_mol, notes.event]


def answer(notes, **more):
    return light_association(*columns(notes), seed=1, power=False, profile=False, **more)


def levels_of(day, *, arrived=np.nan, moved=np.nan, keeper=None, water=None):
    day = np.asarray(day, float)
    full = [np.broadcast_to(np.asarray(a, float), day.shape) for a in (arrived, moved)]
    return visit_levels(day, np.zeros(len(day), int), *full, keeper, water)


@pytest.fixture(scope="module")
def harmed():
    return simulate(HARMED, np.random.default_rng(5))


def test_hands_that_harm_are_taken_for_light_unless_given(harmed):
    blamed, cleared = answer(harmed), answer(harmed, moved=harmed.moved)
    assert blamed.p_value < 0.05 < cleared.p_value
    assert cleared.ratio_per_doubling < blamed.ratio_per_doubling


def test_journey_is_taken_for_light_unless_given():
    notes = simulate(CAME, np.random.default_rng(5))
    blamed, cleared = answer(notes), answer(notes, arrived=notes.arrived)
    assert blamed.p_value < 0.05 < cleared.p_value


def test_days_may_be_one_for_each_coral_or_one_for_each_visit():
    notes = simulate(CAME, np.random.default_rng(5))
    labels, first = np.unique(notes.coral, return_index=True)
    by_coral = answer(notes, arrived=notes.arrived[first])
    assert repr(by_coral) == repr(answer(notes, arrived=notes.arrived))
    assert len(labels) < len(notes.coral)


def test_rows_in_another_order_give_the_same_answer(harmed):
    order = np.random.default_rng(1).permutation(len(harmed.coral))
    shuffled = [column[order] for column in columns(harmed)]
    again = light_association(
        *shuffled, moved=harmed.moved[order], seed=1, power=False, profile=False
    )
    assert repr(again) == repr(answer(harmed, moved=harmed.moved))


@pytest.mark.parametrize("name", ["arrived", "moved"])
def test_never_is_as_not_given(harmed, name):
    never = np.full(len(harmed.coral), np.nan)
    assert repr(answer(harmed, **{name: never})) == repr(answer(harmed))


def test_arrival_after_the_last_note_changes_nothing_but_is_said(harmed):
    late = answer(harmed, arrived=np.full(len(harmed.coral), 1e4))
    before = answer(harmed)
    assert late.p_value == before.p_value
    (said,) = set(late.notes) - set(before.notes)
    assert said.startswith(f"{len(harmed.coral)} ")


def test_move_to_come_counts_for_nothing_yet():
    assert levels_of([0, 7, 14], moved=20).names == ()


def test_move_before_arrival_is_the_arrival():
    assert levels_of([0, 7, 14, 60], moved=3, arrived=3).names == ("new", "new")
    assert "moved" in levels_of([0, 7, 14, 60], moved=4, arrived=3).names


@pytest.mark.parametrize(("days", "new"), [(42, 1.0), (43, 0.0)])
def test_coral_is_new_for_six_weeks(days, new):
    levels = levels_of([0, 7, days, 200], arrived=0)
    assert levels.only("new")[2, 0] == new


@pytest.mark.parametrize(("days", "fresh"), [(14, 1.0), (15, 0.0)])
def test_move_has_a_level_for_a_fortnight(days, fresh):
    assert levels_of([0, days, 200], moved=0).only("moved")[1, 0] == fresh


@pytest.mark.parametrize(("days", "own"), [(4, 0), (5, 2)])
def test_keeper_who_noted_on_five_days_has_a_level(days, own):
    day = np.arange(20.0)
    keeper = np.where(day < days, "b", "a")
    assert len(keeper_columns(day, keeper)) == own


@pytest.mark.parametrize(("days", "waves"), [(299, 0), (301, 3), (549, 3), (551, 5), (2000, 5)])
def test_ten_months_of_notes_have_slow_waves(days, waves):
    assert levels_of(np.linspace(0, days, 50)).names.count("smooth") == waves


@pytest.mark.parametrize(("days", "waves"), [(299, 3), (301, 3), (150, 1)])
def test_short_notes_are_given_waves_where_asked(days, waves):
    day, tank = np.linspace(0, days, 50), np.zeros(50, int)
    assert with_waves(levels_of(day), day, tank).names.count("smooth") == waves


def test_notes_of_one_day_have_no_waves():
    day = np.zeros(4)
    assert with_waves(levels_of(day), day, np.zeros(4, int)).names == ()


def test_waves_are_those_of_the_cosine_transform():
    n = 54
    day = 10.0 * np.arange(n)
    waves = levels_of(day).columns
    span = day[-1]
    for k, wave in enumerate(waves.T, start=1):
        np.testing.assert_allclose(wave, np.cos(np.pi * k * day / span), atol=1e-12)
        # Each is almost one coefficient of the transform: next to nothing lies elsewhere.
        power = dct(wave, norm="ortho") ** 2
        assert np.argmax(power) == k and power[k] > 0.9 * power.sum()


def test_value_of_the_water_counts_against_its_own_tank():
    day = np.tile(np.arange(4.0), 2)
    tank = np.repeat([0, 1], 4)
    water = np.r_[24.0, 25, 26, np.nan, 28, 29, 30, 29][:, None]
    never = np.full(8, np.nan)
    column = visit_levels(day, tank, never, never, None, water).only("water")[:, 0]
    assert column[3] == 0 and column[1] == pytest.approx(0)
    assert column[0] == pytest.approx(-column[2]) and column[4] == pytest.approx(-column[6])


def test_water_that_never_changed_has_no_level():
    assert levels_of([0, 7, 14], water=np.full((3, 1), 8.1)).names == ()


def test_drift_that_was_logged_is_not_taken_for_light():
    world = World(drift_factor=30, ramp_log2=4, tanks=3, shocks=0)
    notes = simulate(world, np.random.default_rng(3))
    assert answer(notes, water=notes.water).p_value > answer(notes).p_value


@pytest.mark.parametrize("given", ["arrived", "moved"])
@pytest.mark.parametrize(
    ("values", "words"), [(np.zeros(3), "one value for each visit"), (np.inf, "finite")]
)
def test_days_that_do_not_fit_are_refused(harmed, given, values, words):
    days = np.full(len(harmed.coral), values) if np.isscalar(values) else values
    with pytest.raises(ValueError, match=words):
        answer(harmed, **{given: days})


def test_water_that_does_not_fit_is_refused(harmed):
    with pytest.raises(ValueError, match="one row for each visit"):
        answer(harmed, water=np.zeros((3, 2)))
    with pytest.raises(ValueError, match="finite"):
        answer(harmed, water=np.full(len(harmed.coral), np.inf))


def test_days_of_corals_go_by_their_ascending_labels():
    days = days_of_visits([10.0, np.nan], np.array([7, 3, 7]), "came")
    assert np.isnan(days[0]) and days[1] == 10.0 and np.isnan(days[2])


def test_one_coral_with_an_arrival_gives_figures():
    day = 7.0 * np.arange(30)
    light = np.where(day >= 100, 10.0, 5.0)
    event = np.isin(day, [14, 56, 182]).astype(int)
    one = np.zeros(30, int)
    given = light_association(one, one, day, light, event, arrived=[0.0], moved=[98.0], seed=1)
    assert 0 < given.p_value <= 1 and np.isfinite(given.low)


def test_without_events_days_change_nothing(harmed):
    given = columns(harmed)[:4]
    none = np.zeros(len(harmed.coral))
    quiet = light_association(*given, none, arrived=harmed.arrived, moved=harmed.moved, seed=1)
    assert (quiet.n_events, quiet.grounds) == (0, (Ground.NO_EVENT,))


def test_levels_without_shocks_are_statsmodels_logistic_regression():
    notes = simulate(
        World(ratio=4, tanks=1, shocks=0, base_risk=0.15, move_share=0.9, handling_factor=4),
        np.random.default_rng(1),
    )
    shocks = 1.0 * (notes.day == 70)
    model = ShockModel(tank_weeks(*columns(notes), water_events=shocks, moved=notes.moved))
    model.centre[-3:-1] = -30  # shocks put out
    model.weight[:] = np.r_[np.zeros(len(model.weight) - 3), 1.0, 1.0, 1.0]
    model.start = model.centre.copy()
    best = model.fit()
    peer = sm.Logit(model.event, np.column_stack([model.design, model.dose])).fit(disp=0)
    # The fit stops when its gradient is below 0.005; coefficients are then this near.
    np.testing.assert_allclose(best.parameters[: model.at + 1], peer.params, atol=2e-2)


def test_scores_of_all_levels_are_slopes_of_the_likelihood(harmed):
    weeks = tank_weeks(*columns(harmed), moved=harmed.moved)
    model = ShockModel(weeks)
    null, seen = model.fit(0.0), model.observed()
    step = 1e-5 * np.eye(len(null.parameters))

    def value(theta):
        return model.log_likelihood(theta, seen)[0]

    theta = null.parameters
    slope = [(value(theta + s) - value(theta - s)) / 2e-5 for s in step]
    scores = model.nuisance_scores(null, seen)[0]
    np.testing.assert_allclose(scores, np.delete(slope, model.at), atol=1e-4)


def test_expected_coefficients_are_drawn_in_and_free_ones_are_those_of_statsmodels():
    rng = np.random.default_rng(2)
    stratum = np.repeat(np.arange(40), 6)
    x = rng.normal(size=(240, 2))
    event = rng.random(240) < 1 / (1 + np.exp(1.5 - x[:, 0]))
    free = fit_conditional(x, event, stratum)
    wide = fit_conditional(x, event, stratum, spreads=[np.inf, np.inf])
    tight = fit_conditional(x, event, stratum, spreads=[np.inf, 0.05])
    peer = sm.ConditionalLogit(event.astype(int), x, groups=stratum).fit(disp=0)
    np.testing.assert_allclose(wide.coefficients, peer.params, atol=1e-3, rtol=0)
    np.testing.assert_allclose(wide.coefficients, free.coefficients)
    assert abs(tight.coefficients[1]) < 0.5 * abs(free.coefficients[1])


# --- Late effects -----------------------------------------------------------------------------
def test_light_some_weeks_before_is_that_of_the_visit_then():
    coral, day = np.zeros(8, int), 7.0 * np.arange(8)
    exposure = coral_exposure(coral, day, np.r_[5, 5, 5, 10, 10, 10, 8, 8.0])
    before = log2_ratio_before(coral, day, exposure, days_before=14.0)
    np.testing.assert_allclose(before[2:], exposure.log2_ratio[:-2], atol=1e-12)
    assert before[:2].tolist() == [0, 0]


def test_light_between_two_visits_follows_the_law_of_getting_used():
    coral, day = np.zeros(3, int), np.array([0.0, 20.0, 25.0])
    exposure = coral_exposure(coral, day, [5.0, 10.0, 10.0])
    # Ten days before the last: the light was still the old one (it changes after three quarters).
    assert log2_ratio_before(coral, day, exposure, days_before=10.0)[2] == 0
    # Seven days before: three days in the new light, 16 days' law.
    used = 10 - 5 * np.exp(-3 / 16)
    ratio = log2_ratio_before(coral, day, exposure, days_before=7.0)[2]
    assert ratio == pytest.approx(np.log2(10 / used))


@pytest.mark.parametrize("tanks", [1, 2])
def test_weights_of_the_delays_stand_in_the_words_and_add_up(tanks):
    notes = simulate(World(ratio=8, tanks=tanks, base_risk=0.06), np.random.default_rng(2))
    result = light_association(*columns(notes), seed=1, power=False)
    assert f"3 weeks ({100 * kernel(tanks)[3]:.0f} %)" in result.method
    assert sum(lag.weight for lag in result.lag_profile) == pytest.approx(1)


def test_late_effect_is_found_and_its_delay_said():
    notes = simulate(World(ratio=8, tanks=4, delay_days=21), np.random.default_rng(2))
    late = answer(notes)
    assert late.p_value < 0.05 and late.verdict in (POINTS, ENOUGH)
    assert late.delay_weeks == 3 and "3 weeks before" in late.reason


def test_prompt_effect_says_no_delay():
    prompt = answer(simulate(World(ratio=8, tanks=4), np.random.default_rng(2)))
    assert prompt.delay_weeks == 0 and "before:" not in prompt.reason


# --- Words ------------------------------------------------------------------------------------
def test_weeks_against_weeks_name_what_would_look_the_same():
    # The whole tank is raised at once, so that no corals of one week differ.
    coral, day = np.tile(np.arange(8), 30), np.repeat(7.0 * np.arange(30), 8)
    light = np.where(day >= 105, 20.0, 5.0)
    event = np.isin(day, (105, 112, 119)) & (coral < 4)
    one = np.zeros(240, int)
    result = light_association(coral, one, day, light, event, seed=1)
    assert (result.verdict, result.grounds) == (POINTS, (Ground.NO_NEIGHBOURS,))
    assert "season" in result.reason and "water" in result.reason


def test_power_says_what_it_assumes(harmed):
    full = light_association(*columns(harmed), seed=1, profile=False)
    assert "within the week" in full.power_words and "all else" in full.power_words
    assert tenths(full.power) in full.power_words
