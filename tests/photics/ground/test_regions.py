"""Regions of a picture: which pixels, how much of it, and where they go when it moves."""

import numpy as np
import pytest

from apps.photics.ground.regions import BOX, ELLIPSE, OUTLINE, Region, pixels_of

PICTURE = np.arange(100 * 200 * 3, dtype=np.int64).reshape(100, 200, 3)
SQUARE = Region(OUTLINE, ((0.25, 0.25), (0.75, 0.25), (0.75, 0.75), (0.25, 0.75)))


@pytest.mark.parametrize(
    ("region", "count"),
    [
        (Region(BOX, ((0.25, 0.25), (0.75, 0.75))), 5000),
        (SQUARE, 5000),
        (Region(ELLIPSE, ((0.25, 0.25), (0.75, 0.75))), 5000 * np.pi / 4),
        (Region(OUTLINE, ((0, 0), (1, 0), (0, 1))), 10_000),
    ],
    ids=["box", "square", "ellipse", "triangle"],
)
def test_pixels_inside(region, count):
    # The rim of a shape falls on one side or the other.
    assert len(pixels_of(PICTURE, region)[0]) == pytest.approx(count, rel=0.01)


def test_corners_may_come_in_any_order():
    one, two = Region(BOX, ((0.7, 0.8), (0.2, 0.1))), Region(BOX, ((0.2, 0.1), (0.7, 0.8)))
    assert np.array_equal(pixels_of(PICTURE, one)[0], pixels_of(PICTURE, two)[0])


def test_places_span_the_region():
    _, places = pixels_of(PICTURE, SQUARE)
    assert places.min() == pytest.approx(0, abs=0.02) and places.max() == pytest.approx(1, abs=0.02)


def test_region_on_the_edge_stays_in_the_picture():
    assert len(pixels_of(PICTURE, Region(BOX, ((0.9, 0.9), (1, 1))))[0]) == 200


def test_region_without_width_has_no_pixels():
    assert len(pixels_of(PICTURE, Region(OUTLINE, ((0.1, 0.1), (0.5, 0.5), (0.9, 0.9))))[0]) == 0


@pytest.mark.parametrize("shape", [BOX, ELLIPSE, OUTLINE])
def test_region_moves_with_the_picture(shape):
    points = SQUARE.points if shape == OUTLINE else ((0.25, 0.25), (0.75, 0.75))
    shifted = Region(shape, points).moved(np.array([[1, 0, 0.1], [0, 1, -0.05]]))
    assert shifted.ends() == pytest.approx((0.35, 0.20, 0.85, 0.70))


@pytest.mark.parametrize(
    ("shape", "points"), [("blob", ((0, 0), (1, 1))), (BOX, ((0, 0),)), (OUTLINE, ((0, 0), (1, 1)))]
)
def test_shape_that_is_none_is_refused(shape, points):
    with pytest.raises(ValueError, match="box"):
        Region(shape, points)
