"""Points and their mirror images at the panes, and the light that comes by all of them."""

import numpy as np
import pytest

from apps.photics.ground.scene import Tank
from apps.photics.optics.beam import unfold

POINTS = np.array([[5.0, 20.0, 10.0], [30.0, 20.0, 2.0], [55.0, 3.0, 30.0]])


@pytest.mark.parametrize("precision", [np.float32, np.float64])
@pytest.mark.parametrize("emitters", [(), (4,)])
def test_rays_are_summed_over_each_points_own_images(precision, emitters):
    images = unfold(POINTS.astype(precision), Tank(60, 40, 45))
    many = len(images.row)
    rays = np.random.default_rng(3).uniform(size=(many, *emitters)).astype(precision)
    wanted = np.stack([rays[images.row == n].sum(axis=0) for n in range(len(POINTS))])
    found = images.summed(rays)
    assert found.dtype == precision
    np.testing.assert_allclose(found, wanted, rtol=1e-5)
