"""What a rig leaves unexplained: which law is chosen, and how large all deviations are."""

from itertools import product

import numpy as np
import pytest

from apps.photics.ground.scene import Tank
from apps.photics.rig.remainder import (
    FARTHEST_DEVIATIONS,
    NOISE_FACTORS,
    REMAINDER_RANGES,
    REMAINDERS,
    USUAL_READINGS,
    Law,
    Unexplained,
    common_size,
    fit_remainder,
    foreseen,
    likeliest_law,
    unusual,
)

TANK = Tank(60, 45, 42)
USUAL = Law(0.05, 0.4, 1.0)


def made(seed, many=40, noise=0.05, remainder=0.05):
    """Return points, values and basis of a rig of one gain, drawn by the usual law."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 1, (many, 3)) * (60, 45, 42)
    some = Unexplained(points, np.zeros(many), np.full(many, 0.05**2), np.ones((many, 1)), 52.0)
    root = np.linalg.cholesky(some.correlation(0.4) + 1e-9 * np.eye(many))
    values = remainder * root @ rng.normal(size=many) + rng.normal(0, noise, many) + 0.3
    return points, values, np.ones((many, 1))


def fitted(points, values, basis):
    return fit_remainder(
        TANK,
        points,
        values,
        noise_variance=np.full(len(values), 0.05**2),
        basis=basis,
        robust_weight=np.ones(len(values)),
    )


@pytest.mark.parametrize(
    ("seed", "noise", "remainder"), [(1, 0.05, 0.05), (2, 0.12, 0.05), (3, 0.05, 0.2)]
)
def test_climbing_ends_at_the_likeliest_law_of_all(seed, noise, remainder):
    points, values, basis = made(seed, noise=noise, remainder=remainder)
    some = Unexplained(points, values, np.full(40, 0.05**2), basis, 52.0)
    weight = np.ones(40)
    laws = [Law(*law) for law in product(REMAINDERS, REMAINDER_RANGES, NOISE_FACTORS)]
    best = max(laws, key=lambda law: foreseen(some.process(law), weight) + unusual(*law))
    assert likeliest_law(some, weight) == best


def test_readings_that_agree_better_than_usual_narrow_the_interval_and_worse_ones_widen_it():
    sizes = []
    for noise, remainder in ((0.02, 0.02), (0.05, 0.05), (0.09, 0.09)):
        fits = [fitted(*made(seed, noise=noise, remainder=remainder)) for seed in range(8)]
        at = np.array([[30.0, 20.0, 20.0]])
        widths = [np.sqrt(fit.gp.predict(at, np.ones((1, 1)))[1][0]) for fit in fits]
        sizes.append(np.mean(widths))
    assert sizes[0] < 0.85 * sizes[1]
    assert sizes[2] > 1.3 * sizes[1]


def test_the_common_size_moves_no_map():
    points, values, basis = made(4)
    some = Unexplained(points, values, np.full(40, 0.05**2), basis, 52.0)
    plain, larger = some.process(USUAL), some.process(USUAL, 1.4)
    at = np.random.default_rng(5).uniform(0, 1, (10, 3)) * (60, 45, 42)
    (mean, variance), (same, wider) = (gp.predict(at, np.ones((10, 1))) for gp in (plain, larger))
    np.testing.assert_allclose(same, mean, rtol=1e-9)
    np.testing.assert_allclose(wider, 1.4**2 * variance, rtol=1e-9)


def test_one_reading_however_far_off_counts_as_three_deviations():
    points, values, basis = made(6)
    sizes = []
    for shadow in (0.0, -1.0, -6.0):
        off = values.copy()
        off[7] += shadow
        noise = np.full(40, 0.05**2)
        noise[7] /= 1e-4 if shadow else 1.0
        gp = Unexplained(points, off, noise, basis, 52.0).process(USUAL)
        sizes.append(common_size(gp, noise - 0.05**2))
    most = FARTHEST_DEVIATIONS**2 / (USUAL_READINGS + 40)
    assert sizes[1] == pytest.approx(sizes[2], abs=0.01)
    assert 0 < sizes[1] ** 2 - sizes[0] ** 2 < most + 0.01


def test_few_readings_say_little_of_the_size():
    points, values, basis = made(8, many=4, noise=0.0, remainder=0.0)
    fit = fitted(points, values, basis)
    assert fit.noise_factor == pytest.approx(np.sqrt(40 / 44), abs=0.01)
