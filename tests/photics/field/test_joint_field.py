"""One light from all that was read: surveys under one rig or several make one field."""

from dataclasses import replace

import numpy as np
import pytest

from apps.photics.field import joint
from apps.photics.field.forecast import Forecast
from apps.photics.field.light_field import fit_light_field
from apps.photics.field.readings import SurveyReadings
from apps.photics.ground.scene import Tank
from tests.photics.changed import all_changed
from tests.photics.traced import load_traced


@pytest.fixture(scope="module")
def case():
    return load_traced("case-01")


@pytest.fixture(scope="module")
def refitted():
    """A traced change to an optic of another kind: the forecast alone is far off."""
    return next(c for c in all_changed() if c.name == "raised, narrower" and not c.same_family)


def field_of(case, others=(), some=slice(None), **settings):
    return fit_light_field(
        case.points_cm[some],
        case.par_umol[some],
        tank=case.tank,
        fixtures=case.fixtures,
        others=others,
        **settings,
    )


def checks_of(change, many):
    """Return the true light after a change at spots spread over its truths, as a survey."""
    places = np.linspace(0, len(change.truth_umol) - 1, many).round().astype(int)
    return places, SurveyReadings(
        change.truth_points_cm[places],
        change.truth_umol[places].round(),
        fixtures=change.after,
        same_as=change.same_as,
    )


def error_after(change, others):
    field = fit_light_field(
        change.points_cm, change.par_umol, tank=change.tank, fixtures=change.before, others=others
    )
    estimate = field.forecast(change.after, same_as=change.same_as).at(change.truth_points_cm)
    width = np.median(np.log(estimate.high_umol / estimate.low_umol))
    return 100 * np.median(np.abs(estimate.par_umol / change.truth_umol - 1)), width


def test_ten_surveys_of_one_rig_are_one_survey(case):
    parts = np.array_split(np.arange(len(case.par_umol)), 10)
    others = [SurveyReadings(case.points_cm[some], case.par_umol[some]) for some in parts[1:]]
    ten = field_of(case, others, parts[0]).at(case.truth_points_cm)
    one = field_of(case).at(case.truth_points_cm)
    np.testing.assert_allclose(ten.par_umol, one.par_umol, rtol=0.01)
    np.testing.assert_allclose(ten.high_umol, one.high_umol, rtol=0.01)


def test_the_same_rig_told_as_a_change_that_changes_nothing_is_near_it(case):
    some = np.arange(0, len(case.par_umol), 2)
    rest = np.setdiff1d(np.arange(len(case.par_umol)), some)
    other = SurveyReadings(case.points_cm[rest], case.par_umol[rest], fixtures=case.fixtures)
    joined = field_of(case, [other], some).at(case.truth_points_cm)
    one = field_of(case).at(case.truth_points_cm)
    assert np.median(np.abs(joined.par_umol / one.par_umol - 1)) < 0.02


def test_two_readings_after_a_change_halve_the_forecasts_error(refitted):
    alone, wide = error_after(refitted, [])
    with_two, narrow = error_after(refitted, [checks_of(refitted, 2)[1]])
    assert with_two < 0.6 * alone
    assert narrow < 0.8 * wide


def test_readings_after_several_changes_sharpen_each_other(refitted):
    """Three readings now, three under the same optic at another level: more than three alone."""
    places, now = checks_of(refitted, 3)
    dim = [replace(f, level=0.5) for f in refitted.after]
    then = SurveyReadings(
        refitted.truth_points_cm[places - 1],
        (0.5 * refitted.truth_umol[places - 1]).round(),
        fixtures=tuple(dim),
        same_as=refitted.same_as,
    )
    both, narrow = error_after(refitted, [then, now])
    alone, wide = error_after(refitted, [now])
    assert narrow < wide
    assert both < alone + 1.0


def test_a_later_survey_of_four_never_worsens_the_map(case):
    """Four readings at true light, nothing changed."""
    places = np.array([11, 130, 251, 377])
    later = SurveyReadings(case.truth_points_cm[places], case.truth_umol[places].round())

    def error(field):
        estimate = field.at(case.truth_points_cm)
        return 100 * np.median(np.abs(estimate.par_umol / case.truth_umol - 1))

    assert error(field_of(case, [later])) < error(field_of(case)) + 0.2


@pytest.mark.parametrize("scale", [0.0, 0.05])
def test_a_survey_by_another_meter_counts_by_how_far_their_scales_may_differ(case, scale):
    """Every second reading by a meter that shows a tenth more."""
    some = np.arange(0, len(case.par_umol), 2)
    rest = np.setdiff1d(np.arange(len(case.par_umol)), some)
    other = SurveyReadings(case.points_cm[rest], 1.1 * case.par_umol[rest], scale_deviation=scale)
    joined = field_of(case, [other], some).at(case.truth_points_cm).par_umol
    level = np.median(joined / field_of(case).at(case.truth_points_cm).par_umol)
    assert (level > 1.04) == (scale == 0)


@pytest.mark.parametrize(("factor", "is_told"), [(1.0, False), (1.05, False), (1.6, True)])
def test_a_survey_that_contradicts_the_others_is_told(case, factor, is_told):
    places = np.array([20, 140, 260, 300])
    later = SurveyReadings(case.truth_points_cm[places], factor * case.truth_umol[places])
    after = field_of(case, [later]).survey_summaries[1]
    assert (after.against_others is not None) == is_told
    if is_told:
        assert after.against_others == pytest.approx(factor, rel=0.15)


def test_every_survey_has_its_own_summary(refitted):
    _, now = checks_of(refitted, 3)
    field = fit_light_field(
        refitted.points_cm,
        refitted.par_umol,
        tank=refitted.tank,
        fixtures=refitted.before,
        others=[now],
    )
    sizes = [len(summary.loo_par_umol) for summary in field.survey_summaries]
    assert sizes == [len(refitted.par_umol), 3]


def test_noise_is_worked_out_no_more_often_than_it_changes(refitted, monkeypatch):
    """A page waits for it: of each joined survey it costs six times the light at its readings."""
    calls = []
    noise_at = Forecast.noise_at
    monkeypatch.setattr(
        Forecast, "noise_at", lambda self, at: calls.append(len(at)) or noise_at(self, at)
    )
    error_after(refitted, [checks_of(refitted, many)[1] for many in (2, 3)])
    # And once for all five, by which the kinds of the new optic are weighed.
    assert sorted(calls) == [2, 2, 3, 3, 5]


def test_noise_worked_out_in_every_round_would_change_no_map(refitted, monkeypatch):
    few, _ = error_after(refitted, [checks_of(refitted, 3)[1]])
    monkeypatch.setattr(joint, "NOISE_ROUNDS", joint.ROUNDS + 1)
    always, _ = error_after(refitted, [checks_of(refitted, 3)[1]])
    assert few == pytest.approx(always, abs=0.4)


def test_a_forecasts_typical_error_is_its_own(refitted):
    field = fit_light_field(
        refitted.points_cm, refitted.par_umol, tank=refitted.tank, fixtures=refitted.before
    )
    forecast = field.forecast(refitted.after, same_as=refitted.same_as)
    assert forecast.summary.typical_error_percent > 1.5 * field.summary.typical_error_percent


def test_the_meters_own_uncertainty_widens_par_and_cancels_in_ratios(case):
    plain, unsure = field_of(case), field_of(case, meter_uncertainty_percent=8)
    a, b = (field.at(case.truth_points_cm) for field in (plain, unsure))
    np.testing.assert_allclose(a.par_umol, b.par_umol)
    own, wide = (np.log(e.high_umol / e.par_umol) for e in (a, b))
    # One deviation of 8 % is 1.645 of them at 90 %.
    np.testing.assert_allclose(wide, np.hypot(own, 1.645 * np.log(1.08)), rtol=1e-9)


def test_readings_of_another_box_are_refused_by_number():
    with pytest.raises(ValueError, match="one x, y, depth"):
        fit_light_field(
            np.ones((5, 3)),
            np.ones(5),
            tank=Tank(60, 40, 40),
            others=[SurveyReadings(np.ones((2, 3)), np.ones(3))],
        )
