"""Photos of one thing laid on each other: known moves come back, other things don't match."""

import numpy as np
import pytest
from scipy.ndimage import affine_transform, gaussian_filter

from apps.photics.colour.alignment import align


def scenery(seed, shape=(300, 400)):
    """A picture of blobs of all sizes, as rock and coral are, codes 0 to 255."""
    rng = np.random.default_rng(seed)
    layers = [gaussian_filter(rng.normal(size=shape), s) * s for s in (2, 4, 8, 16, 32)]
    total = sum(layers)
    return np.clip(127 + 50 * total / total.std(), 0, 255)


def moved(picture, *, turn_deg=0.0, scale=1.0, shift=(0.0, 0.0)):
    """Return the picture after a move about its middle, and the move on shares (2, 3)."""
    height, width = picture.shape
    angle = np.radians(turn_deg)
    matrix = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    size, middle = np.array([width, height]), np.array([width, height]) / 2
    offset = middle - matrix @ middle + np.array(shift) * size
    back = np.linalg.inv(matrix)
    swap = np.array([[0, 1], [1, 0]])
    made = affine_transform(
        picture, swap @ back @ swap, offset=(swap @ (-back @ offset)), order=1, mode="reflect"
    )
    on_shares = np.diag(1 / size) @ matrix @ np.diag(size)
    return made, np.hstack([on_shares, (offset / size)[:, None]])


POINTS = np.array([(0.3, 0.3, 1), (0.7, 0.35, 1), (0.5, 0.7, 1)])


@pytest.mark.parametrize(
    "move",
    [
        {},
        {"shift": (0.12, -0.08)},
        {"turn_deg": 12.0},
        {"turn_deg": -25.0, "shift": (0.05, 0.05)},
        {"scale": 1.3},
        {"scale": 0.75, "turn_deg": 8.0, "shift": (-0.06, 0.04)},
    ],
    ids=str,
)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_known_move_comes_back(move, seed):
    first = scenery(seed)
    second, truth = moved(first, **move)
    found = align(first, second + np.random.default_rng(9).normal(0, 8, second.shape))
    assert found.sure
    # A region is drawn no finer than by two hundredths of the picture.
    assert np.abs(POINTS @ found.transform.T - POINTS @ truth.T).max() < 0.02


def test_other_light_and_exposure_do_not_matter():
    first = scenery(4)
    second, truth = moved(first, turn_deg=6.0, shift=(0.05, 0.0))
    tinted = np.stack([second * f for f in (0.3, 0.6, 0.9)], axis=-1)
    found = align(first, tinted)
    assert found.sure and np.abs(POINTS @ (found.transform - truth).T).max() < 0.02


def test_pictures_may_differ_in_size():
    first = scenery(5, (300, 400))
    found = align(first, first[::2, ::2])
    assert found.sure and np.abs(POINTS @ found.transform.T - POINTS[:, :2]).max() < 0.02


def test_upright_and_lying_pictures_keep_their_aspect():
    lying = scenery(6, (300, 400))
    upright = lying[:, 50:275]
    found = align(lying, upright)
    expected = (POINTS[:, :2] * (400, 300) - (50, 0)) / (225, 300)
    assert found.sure and np.abs(POINTS @ found.transform.T - expected).max() < 0.03


def test_unrelated_pictures_are_not_sure():
    peaks = [align(scenery(n), scenery(n + 100)).peak for n in range(12)]
    assert max(peaks) < 10


@pytest.mark.parametrize("kind", ["box", "halves", "ramp"])
def test_bare_shapes_are_not_sure(kind):
    shapes = {name: np.full((300, 400), 90.0) for name in ("box", "halves")}
    shapes["box"][100:200, 100:220] = 200
    shapes["halves"][:, 200:] = 30
    shapes["ramp"] = np.tile(np.linspace(0, 255, 400), (300, 1))
    assert max(align(scenery(n), shapes[kind]).peak for n in range(8)) < 20


def test_empty_picture_is_not_sure():
    assert not align(scenery(1), np.full((300, 400), 90.0)).sure
