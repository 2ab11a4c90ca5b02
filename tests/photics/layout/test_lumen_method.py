"""The quick estimate by the lumen method: published values, limits, and against the ray model."""

import numpy as np
import pytest

from apps.photics.ground.scene import Fixture, Tank
from apps.photics.layout.light.lumen_method import (
    MAINTENANCE,
    estimated_umol,
    opposite_share,
    utilisation,
)
from apps.photics.layout.planned_light import planned_field
from apps.photics.rig.fixture_light import output_estimate

TANK = Tank(90, 45, 50)


# Howell, A Catalog of Radiation Heat Transfer Configuration Factors, C-11: sides over distance.
@pytest.mark.parametrize(("x", "y", "share"), [(1, 1, 0.1998), (2, 2, 0.4153), (10, 10, 0.8271)])
def test_share_between_opposite_rectangles_is_the_published_one(x, y, share):
    assert opposite_share(x, y) == pytest.approx(share, abs=2e-4)


def test_nearer_and_narrower_use_more_of_the_light():
    shares = [utilisation(TANK, height_cm=h, beam_deg=b)
              for h, b in ((40, 120), (20, 120), (20, 60))]  # fmt: skip
    assert shares == sorted(shares) and shares[0] > 0 and shares[-1] < 1


def test_a_great_tank_gets_all_and_pays_for_the_surface_and_maintenance():
    great = Tank(4000, 4000, 50)
    light = estimated_umol(great, [(1600.0, 120.0, 1.0)], depth_cm=0, k_per_cm=0.003)
    assert light == pytest.approx(0.95 * MAINTENANCE, rel=0.01)


def test_the_estimate_lies_within_a_third_of_the_ray_model():
    fixtures = [Fixture(x, 22.5, 20, 110, 20, 20) for x in (25, 65)]
    field = planned_field(TANK, fixtures, [output_estimate(ppf_umol_s=60)] * 2)
    x, y = np.meshgrid(np.linspace(5, 85, 9), np.linspace(5, 40, 6))
    points = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, 20.0)])
    light = estimated_umol(TANK, [(60.0, 110.0, 20.0)] * 2, depth_cm=20, k_per_cm=0.003)
    assert light == pytest.approx(field.at(points).par_umol.mean(), rel=0.33)


def test_no_fixture_gives_no_light():
    assert estimated_umol(TANK, [], depth_cm=10, k_per_cm=0.003) == 0
