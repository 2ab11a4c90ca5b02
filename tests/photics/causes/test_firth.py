"""Firth's logistic regression against published data and an independent package."""

import json

import numpy as np
import pytest
from firthmodels import FirthLogisticRegression

from apps.photics.causes.firth import fit_firth
from tests.paths import DATA

CHECKS = DATA / "checks"


@pytest.fixture(scope="module")
def endometrial():
    """Heinze & Schemper 2002, Stat Med 21:2409: every case with NV has the event."""
    table = np.genfromtxt(CHECKS / "endometrial.csv", delimiter=",", names=True)
    columns = [table[name] for name in table.dtype.names]
    return fit_firth(np.column_stack(columns[:3]), columns[3])


# Reference run with R brglm2 0.9 (coefficients) and firthmodels 0.8.2 (profile intervals).
REFERENCE = json.loads((CHECKS / "statistics_checks.json").read_text())["firth_endometrial"]
ORDER = ["intercept", "NV", "PI", "EH"]


def test_endometrial_coefficients(endometrial):
    expected = [REFERENCE["Firth"][name] for name in ORDER]
    np.testing.assert_allclose(endometrial.coefficients, expected, atol=2e-6)


def test_endometrial_profile_intervals(endometrial):
    expected = np.array([REFERENCE["profile_CI"][name] for name in ORDER])
    # The peer stops its search for an end within about 1e-4 of it.
    np.testing.assert_allclose(endometrial.low, expected[:, 0], atol=1e-3)
    np.testing.assert_allclose(endometrial.high, expected[:, 1], atol=1e-3)


def test_endometrial_likelihood(endometrial):
    expected = REFERENCE["penalised_loglik"]
    assert endometrial.penalised_log_likelihood == pytest.approx(expected, abs=1e-6)


@pytest.fixture
def separated():
    """Every coral in the brightest spots paled: plain logistic regression has no answer."""
    rng = np.random.default_rng(8)
    bright = np.repeat([0.0, 1.0], [30, 8])
    dose = rng.normal(size=38)
    event = np.where(bright == 1, 1, (rng.random(38) < 0.3).astype(int))
    return np.column_stack([bright, dose]), event


def test_firthmodels_agrees_on_separated_data(separated):
    x, event = separated
    fit = fit_firth(x, event)
    peer = FirthLogisticRegression(gtol=1e-7, xtol=1e-7, max_iter=200).fit(x, event)
    expected = np.r_[peer.intercept_, peer.coef_]
    np.testing.assert_allclose(fit.coefficients, expected, atol=1e-6)
    low_high = peer.conf_int(method="pl")
    order = [2, 0, 1]  # theirs lists the intercept last
    # Both stop their search for an end within about 1e-4 of it.
    np.testing.assert_allclose(fit.low, low_high[order, 0], atol=1e-3)
    np.testing.assert_allclose(fit.high, low_high[order, 1], atol=1e-3)


def test_two_by_two_table_is_the_half_corrected_one():
    """With one 0/1 column Firth adds a half to each cell (Heinze & Schemper 2002)."""
    x = np.repeat([0.0, 1.0], [20, 10])[:, None]
    event = np.r_[np.ones(4), np.zeros(16), np.ones(10)]
    slope = fit_firth(x, event).coefficients[1]
    assert slope == pytest.approx(np.log((10.5 / 0.5) / (4.5 / 16.5)), abs=1e-6)


def test_rows_that_stand_for_several_are_those_rows():
    x, number, event = np.array([0.0, 1.0, 2.0]), np.array([9, 7, 4]), np.array([1, 2, 3])
    one_by_one = np.concatenate([np.arange(n) < e for n, e in zip(number, event, strict=True)])
    single = fit_firth(np.repeat(x, number)[:, None], one_by_one)
    grouped = fit_firth(x[:, None], event, number=number)
    np.testing.assert_allclose(grouped.coefficients, single.coefficients, atol=1e-8)
    np.testing.assert_allclose(grouped.high, single.high, atol=1e-5)


def test_columns_that_say_the_same_are_refused():
    x = np.column_stack([np.arange(9.0), 2 * np.arange(9.0)])
    with pytest.raises(ValueError, match="cannot be told apart"):
        fit_firth(x, np.arange(9) % 2)
