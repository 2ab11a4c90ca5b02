"""The Gaussian process against published examples, brute force and scikit-learn."""

import csv

import numpy as np
import pytest
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern

from apps.photics.rig.residual import fit_residual, matern32, surface_covariance
from tests.paths import DATA

CHECKS = DATA / "checks"


def franke(x, y):
    """Franke (1979), test function F1."""
    return (
        0.75 * np.exp(-((9 * x - 2) ** 2 + (9 * y - 2) ** 2) / 4)
        + 0.75 * np.exp(-((9 * x + 1) ** 2) / 49 - (9 * y + 1) / 10)
        + 0.5 * np.exp(-((9 * x - 7) ** 2 + (9 * y - 3) ** 2) / 4)
        - 0.2 * np.exp(-((9 * x - 4) ** 2) - (9 * y - 7) ** 2)
    )


@pytest.fixture
def scattered():
    rng = np.random.default_rng(5)
    points = rng.uniform(0, 40, (25, 3))
    return points, np.sin(points[:, 0] / 9) + 0.02 * points[:, 2] + rng.normal(0, 0.05, 25)


def test_franke_surface_is_recovered():
    axis = np.linspace(0, 1, 12)
    points = np.array([(x, y) for x in axis for y in axis])
    gp = fit_residual(
        points, franke(*points.T), noise_variance=1e-8, variance=1.0, lengths=(0.5, 0.5)
    )
    rows = list(csv.DictReader((CHECKS / "franke_values.csv").open()))
    at = np.array([(float(r["x"]), float(r["y"])) for r in rows])
    mean, _ = gp.predict(at, np.zeros((len(at), 0)))
    # 144 nodes of a Matern 3/2 surface follow Franke's hills to about a hundredth of its height.
    np.testing.assert_allclose(mean, [float(r["F1"]) for r in rows], atol=0.015)


def test_isaaks_and_srivastava_ordinary_kriging():
    """Isaaks & Srivastava 1989, Applied Geostatistics, ch. 12: 592.73 with variance 8.96."""
    x = [61, 63, 64, 68, 71, 73, 75]
    y = [139, 140, 129, 128, 140, 141, 128]
    v = [477, 696, 227, 646, 606, 791, 783]
    gp = fit_residual(
        np.column_stack([x, y]),
        v,
        noise_variance=0.0,
        variance=10.0,
        lengths=(1 / 0.3, 1 / 0.3),
        basis=np.ones((7, 1)),
        prior_variance=[1e8],
        kernel=lambda distance: np.exp(-distance),
    )
    mean, variance = gp.predict(np.array([[65.0, 137.0]]), np.ones((1, 1)))
    assert mean[0] == pytest.approx(592.729, abs=0.01)
    assert variance[0] == pytest.approx(8.956, abs=0.001)


def test_leave_one_out_equals_brute_force(scattered):
    points, values = scattered
    basis = np.column_stack([np.ones(25), points[:, 2] / 40])
    how = {"variance": 0.3, "lengths": (15, 15, 30), "prior_variance": [100.0, 4.0]}
    noise = np.linspace(0.01, 0.03, 25)
    misfit, variance = fit_residual(
        points, values, noise_variance=noise, basis=basis, **how
    ).leave_one_out()
    for i in range(25):
        rest = np.arange(25) != i
        gp = fit_residual(
            points[rest], values[rest], noise_variance=noise[rest], basis=basis[rest], **how
        )
        mean, deviation = gp.predict(points[[i]], basis[[i]])
        assert values[i] - mean[0] == pytest.approx(misfit[i], abs=1e-9)
        assert deviation[0] + noise[i] == pytest.approx(variance[i], abs=1e-9)


def test_same_kernel_as_scikit_learn_gives_the_same_answer(scattered):
    points, values = scattered
    kernel = ConstantKernel(0.4) * Matern(length_scale=[12, 14, 30], nu=1.5)
    peer = GaussianProcessRegressor(kernel, alpha=0.02, optimizer=None).fit(points, values)
    ours = fit_residual(
        points, values, noise_variance=0.02, variance=0.4, lengths=(12, 14, 30), kernel=matern32
    )
    at = np.random.default_rng(6).uniform(0, 40, (50, 3))
    mean, variance = ours.predict(at, np.zeros((50, 0)))
    peer_mean, peer_deviation = peer.predict(at, return_std=True)
    np.testing.assert_allclose(mean, peer_mean, atol=1e-9)
    np.testing.assert_allclose(variance, peer_deviation**2, atol=1e-9)
    assert ours.log_likelihood == pytest.approx(peer.log_marginal_likelihood_value_, abs=1e-7)


def test_kept_remainder_says_what_the_data_say_themselves(scattered):
    points, values = scattered
    rng = np.random.default_rng(9)
    gp = fit_residual(
        points,
        values,
        noise_variance=0.02,
        variance=0.3,
        lengths=(15, 15, 30),
        basis=rng.normal(size=(25, 3)),
        prior_variance=[1.0, 0.5, 2.0],
        parts=rng.uniform(0, 1, (25, 2)),
    )
    at, basis = rng.uniform(0, 40, (40, 3)), rng.normal(size=(40, 3))
    parts, own = rng.uniform(0, 1, (40, 2)), rng.uniform(2, 3, 40)
    direct = gp.predict_parts(gp.remainder_at(at), basis, parts, own)
    kept = gp.remainder_kept(at).predict_parts(basis, parts, own)
    covariance = gp.covariance_parts(at, basis, parts, own)
    np.testing.assert_allclose(np.diag(covariance), direct[2], atol=1e-10)
    for ours, theirs in zip(kept, direct, strict=True):
        np.testing.assert_allclose(ours, theirs, atol=1e-10)


def test_points_in_single_precision_are_followed_as_finely_as_any_meter(scattered):
    points, values = scattered
    gp = fit_residual(
        points,
        values,
        noise_variance=0.0025,
        variance=0.05**2,
        lengths=(15, 15, 30),
        basis=np.ones((25, 1)),
        # As wide as the scale of a rig is before any reading.
        prior_variance=[100.0],
    )
    at = np.concatenate([points, points + 0.001, np.random.default_rng(2).uniform(0, 40, (50, 3))])
    assert gp.remainder_at(at.astype(np.float32)).dtype == np.float32
    double = gp.predict(at, np.ones((len(at), 1)))
    single = gp.predict(at.astype(np.float32), np.ones((len(at), 1), np.float32))
    np.testing.assert_allclose(single[0], double[0], atol=1e-5)
    np.testing.assert_allclose(single[1], double[1], rtol=1e-3)


def test_a_surface_worked_out_before_changes_nothing(scattered):
    points, values = scattered
    law = {"variance": 0.3, "lengths": np.array([12.0, 12.0, 18.0])}
    law |= {"basis": np.ones((25, 1)), "prior_variance": np.array([4.0])}
    ready = surface_covariance(points, **law)
    before = ready.copy()
    told = fit_residual(points, values, noise_variance=0.01, surface=ready, **law)
    anew = fit_residual(points, values, noise_variance=0.01, **law)
    assert told.weights.tolist() == anew.weights.tolist()
    # What one round adds to it is no part of the next.
    assert ready.tolist() == before.tolist()
