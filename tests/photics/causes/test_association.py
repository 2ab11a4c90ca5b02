"""Is it the light: known truths, invariances and every sentence that says why not."""

import numpy as np
import pytest
import statsmodels.api as sm

from apps.photics.causes.association import (
    ELSEWHERE,
    ENOUGH,
    MORE_WEEKS,
    POINTS,
    UNSURE,
    Ground,
    light_association,
    power_sentence,
)
from apps.photics.causes.ratio_test import later_power
from apps.photics.causes.shock_model import ShockModel
from apps.photics.causes.tank_weeks import tank_weeks
from tests.benchmarks.worlds import World, simulate


def columns(notes):
    return [notes.coral, notes.tank, notes.day, notes.dli_mol, notes.event]


@pytest.fixture(scope="module")
def strong():
    return simulate(World(ratio=8, tanks=4), np.random.default_rng(2))


@pytest.fixture(scope="module")
def found(strong):
    return light_association(*columns(strong), seed=1)


def small(event=None, dli_mol=None, corals=4, visits=6):
    """Four corals in one tank; the light of two doubles half way."""
    coral, day = np.tile(np.arange(corals), visits), np.repeat(7 * np.arange(visits), corals)
    light = np.where((coral < corals / 2) & (day >= 7 * visits / 2), 10.0, 5.0)
    event = np.zeros(len(day), int) if event is None else event
    light = light if dli_mol is None else dli_mol
    return [coral, np.zeros(len(day), int), day, light, event]


def events_at(*rows, n=24):
    event = np.zeros(n, int)
    event[list(rows)] = 1
    return event


def test_a_strong_effect_is_found_and_covered(found):
    assert found.verdict in (POINTS, ENOUGH)
    assert found.low < 8 < found.high


def test_same_seed_same_answer(strong, found):
    # By their print, for missing figures (nan) are not equal to themselves.
    assert repr(light_association(*columns(strong), seed=1)) == repr(found)


def same_figures(one, other):
    # Sums in another order differ by rounding only.
    assert one.p_value == pytest.approx(other.p_value, abs=1e-9)
    for name in ("ratio_per_doubling", "low", "high", "power"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-4)
    assert one.verdict == other.verdict


def test_order_of_rows_does_not_matter(strong, found):
    order = np.random.default_rng(5).permutation(len(strong.day))
    same_figures(light_association(*(c[order] for c in columns(strong)), seed=1), found)


def test_names_of_corals_and_tanks_do_not_matter(strong, found):
    coral, tank, *rest = columns(strong)
    same_figures(light_association(1000 - 3 * coral, 7 - tank, *rest, seed=1), found)


def test_unit_of_light_does_not_matter(strong, found):
    coral, tank, day, dli_mol, event = columns(strong)
    same_figures(light_association(coral, tank, day, 3.7 * dli_mol, event, seed=1), found)


def test_falls_are_rises_upside_down(strong, found):
    coral, tank, day, dli_mol, event = columns(strong)
    upside = light_association(coral, tank, day, dli_mol, event, seed=1, direction="fall")
    assert upside.p_value > 0.5 > found.p_value


def test_one_shock_in_the_week_of_the_only_change_is_no_claim():
    coral, tank, day, dli_mol, _ = small(corals=8, visits=20)
    dli_mol = np.where(day >= 70, 10.0, 5.0)
    event = ((day == 70) & (coral < 5)).astype(int)
    answer = light_association(coral, tank, day, dli_mol, event, seed=1)
    assert answer.verdict == UNSURE


def test_logged_event_with_every_change_and_no_contrast_cannot_tell():
    coral, tank, day, dli_mol, _ = small(corals=8, visits=20)
    dli_mol = np.where(day >= 70, 10.0, 5.0)
    event = ((day >= 70) & (day <= 77) & (coral < 3)).astype(int)
    rivals = (day == 70).astype(int)
    answer = light_association(coral, tank, day, dli_mol, event, rivals=rivals, seed=1)
    assert (answer.verdict, answer.grounds) == (UNSURE, (Ground.SHARED_CHANGE,))
    assert np.isnan(answer.p_value)


def test_logged_mishaps_that_explain_the_events_are_pointed_to():
    world = World(ratio=1, tanks=6, shocks=3, shock_factor=16)
    notes = simulate(world, np.random.default_rng(3))
    answer = light_association(*columns(notes), rivals=notes.shock, seed=1)
    # The risk of a visit goes from 0.025 to 0.4, its odds from 1 in 39 to 2 in 3.
    assert answer.rival_low < 26 < answer.rival_high
    assert (answer.verdict, answer.grounds) == (ELSEWHERE, (Ground.WATER_EVENTS,))


@pytest.mark.parametrize(
    ("event", "ground"),
    [
        (events_at(), Ground.NO_EVENT),
        (events_at(13), Ground.FEW_EVENTS),
        (events_at(12, 13), Ground.FEW_EVENTS),
        (np.ones(24, int), Ground.ONLY_EVENTS),
    ],
)
def test_too_few_or_too_many_events_make_no_claim(event, ground):
    answer = light_association(*small(event), seed=1)
    assert answer.grounds == (ground,) and answer.reason
    assert answer.verdict == UNSURE and np.isnan(answer.p_value)


def test_steady_light_says_so():
    answer = light_association(*small(events_at(12, 16, 20), np.full(24, 5.0)), seed=1)
    assert (answer.verdict, answer.grounds) == (UNSURE, (Ground.STEADY_LIGHT,))
    assert answer.settle != light_association(*small(events_at(12)), seed=1).settle


def test_one_coral_is_compared_with_its_other_weeks():
    day = 7 * np.arange(30)
    light = np.where(day >= 100, 10.0, 5.0)
    event = np.isin(day, [14, 56, 182]).astype(int)
    one = np.zeros(30, int)
    answer = light_association(one, one, day, light, event, seed=1)
    assert 0 < answer.p_value <= 1
    assert np.isnan(answer.within_root) and len(answer.notes) == 1


def test_separation_within_the_week_is_said():
    answer = light_association(*small(events_at(12, 13, 16)), seed=1)
    assert any("sets no limit" in note for note in answer.notes)
    assert np.isfinite(answer.high)


def test_visits_that_miss_something_are_left_out_and_counted():
    coral, tank, day, dli_mol, event = small(events_at(12, 13, 16))
    dli_mol = dli_mol.copy()
    dli_mol[[1, 5]] = np.nan
    answer = light_association(coral, tank, day, dli_mol, event, seed=1)
    assert answer.notes[0].startswith("2 coral-visits miss")


def test_duplicate_visit_is_refused():
    doubled = [np.r_[c, c[:1]] for c in small(events_at(12, 13, 16))]
    with pytest.raises(ValueError, match="twice on one day"):
        light_association(*doubled, seed=1)


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [(3, -1.0, "below zero"), (4, 2, "0 or 1"), (3, np.inf, "finite")],
)
def test_impossible_values_are_refused(place, value, words):
    given = [c.astype(float) for c in small(events_at(12, 13, 16))]
    given[place][0] = value
    with pytest.raises(ValueError, match=words):
        light_association(*given, seed=1)


def test_gradient_is_the_slope_of_the_likelihood(strong):
    model = ShockModel(tank_weeks(*columns(strong)))
    theta = model.start + 0.1
    step = 1e-5 * np.eye(len(theta))
    slope = [(model.negative(theta + s)[0] - model.negative(theta - s)[0]) / 2e-5 for s in step]
    np.testing.assert_allclose(model.negative(theta)[1], slope, atol=1e-4)


def test_curvature_is_the_slope_of_the_gradient(strong):
    model = ShockModel(tank_weeks(*columns(strong)))
    theta = model.start + 0.1
    step = 1e-5 * np.eye(len(theta))
    bend = [(model.negative(theta + s)[1] - model.negative(theta - s)[1]) / 2e-5 for s in step]
    np.testing.assert_allclose(model.curvature(theta), bend, atol=1e-4)


def test_without_shocks_the_model_is_statsmodels_logistic_regression():
    notes = simulate(World(ratio=4, tanks=1, shocks=0, base_risk=0.1), np.random.default_rng(1))
    shocks = notes.coral % 1 + (notes.day == 70)
    model = ShockModel(tank_weeks(*columns(notes), water_events=shocks))
    model.centre[-3:-1] = -30  # shocks put out
    model.weight[:] = np.r_[np.zeros(len(model.weight) - 3), 1.0, 1.0, 1.0]
    model.start = model.centre.copy()
    best = model.fit()
    design = np.column_stack([model.design, model.dose])
    peer = sm.Logit(model.event, design).fit(disp=0)
    # The fit stops when its gradient is below 0.005; coefficients are then this near.
    np.testing.assert_allclose(best.parameters[: model.at + 1], peer.params, atol=5e-3)


def test_power_grows_with_weeks_and_not_without():
    assert later_power(0.4, weeks=30, more_weeks=0) == pytest.approx(0.4)
    assert later_power(0.4, weeks=30, more_weeks=30) > 0.5


@pytest.mark.parametrize(
    ("now", "later", "chance", "ending"),
    [
        (0.36, 0.44, "about 40 %", "hardly change that."),
        (0.44, 0.46, "about 40 %", "raise it to about 50 %."),
        (0.0, 0.04, "less than 10 %", "hardly change that."),
        (0.8, 0.99, "about 80 %", "raise it to more than 90 %."),
        (0.6, 0.4, "about 60 %", "hardly change that."),
    ],
)
def test_power_is_said_to_rise_only_where_its_figure_does(now, later, chance, ending):
    first, second = power_sentence(now=now, later=later).split(";")
    assert first.endswith(f" {chance}") and second.endswith(ending)
    assert f"another {MORE_WEEKS} weeks" in second


def test_power_is_that_of_simulated_notes(strong, found):
    assert found.power > 0.4
    assert found.power_words.startswith(
        power_sentence(now=found.power, later=found.power).split(";")[0]
    )
    poor = light_association(*small(events_at(12, 13, 16)), seed=1)
    assert poor.power < found.power


def test_light_association_is_importable_by_either_name():
    from apps.photics import association
    from apps.photics.causes.association import light_association as inner

    assert association.light_association is inner
