"""The field on tanks traced by an independent Monte-Carlo photon tracer: it stays this good."""

import numpy as np
import pytest

from apps.photics.field.light_field import fit_light_field
from tests.photics.traced import all_traced

CASES = all_traced()


def scores(fixtures_of):
    """Return MdAPE, nMAE, coverage and width for each tank [%], (12, 4)."""
    rows = []
    for case in CASES:
        found = fit_light_field(
            case.points_cm, case.par_umol, tank=case.tank, fixtures=fixtures_of(case)
        ).at(case.truth_points_cm)
        truth, mean = case.truth_umol, case.truth_umol.mean()
        rows.append(
            (
                np.median(np.abs(found.par_umol / truth - 1)),
                np.mean(np.abs(found.par_umol - truth)) / mean,
                np.mean((found.low_umol <= truth) & (truth <= found.high_umol)),
                np.mean(found.high_umol - found.low_umol) / mean,
            )
        )
    return 100 * np.array(rows)


@pytest.fixture(scope="module")
def known():
    return scores(lambda case: case.fixtures)


@pytest.fixture(scope="module")
def unknown():
    return scores(lambda case: ())


def test_error_with_the_fixtures_known(known):
    # Measured 3.5 and 5.6; the margin is for other machines' rounding, not for a worse method.
    assert known[:, 0].mean() < 3.6
    assert known[:, 1].mean() < 5.8


def test_error_with_the_fixtures_unknown(unknown):
    # Measured 4.0 and 6.1 with every tank's fixtures kept from it.
    assert unknown[:, 0].mean() < 4.2
    assert unknown[:, 1].mean() < 6.3


def test_intervals_hold_nine_tenths(known, unknown):
    # Measured 91 and 93, worst tank 78.
    for scored in (known, unknown):
        assert 88 < scored[:, 2].mean() < 95
        assert scored[:, 2].min() > 75


def test_intervals_stay_as_narrow(known, unknown):
    # Measured 23.5 and 28.0.
    assert known[:, 3].mean() < 24.0
    assert unknown[:, 3].mean() < 28.5


@pytest.mark.parametrize("wrong", [lambda par: 1.0, lambda par: 10.0 * par], ids=["one", "tenfold"])
@pytest.mark.parametrize("case", [CASES[0], CASES[6]], ids=lambda case: case.name)
def test_one_wrong_reading_is_flagged_and_hardly_moves_the_map(case, wrong):
    known = {"tank": case.tank, "fixtures": case.fixtures}
    before = fit_light_field(case.points_cm, case.par_umol, **known).at(case.truth_points_cm)
    for k in range(0, len(case.par_umol), 4):
        par = case.par_umol.copy()
        par[k] = wrong(par[k])
        field = fit_light_field(case.points_cm, par, **known)
        moved = np.abs(field.at(case.truth_points_cm).par_umol / before.par_umol - 1)
        assert np.median(moved) < 0.05
        assert k in [odd.index for odd in field.summary.disagreeing]
