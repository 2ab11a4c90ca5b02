"""How one photo lies on an earlier one of the same thing: shift, turn and scale, from the pictures.

The size of the Fourier transform does not feel a shift, so turn and scale are found there first, as
a shift in log-polar coordinates; then the shift itself. Both by phase correlation.
References: Kuglin & Hines 1975; Reddy & Chatterji 1996, doi:10.1109/83.506761.
"""

from dataclasses import dataclass

import numpy as np
from scipy.fft import fft2, fftshift, ifft2
from scipy.ndimage import affine_transform, gaussian_filter, map_coordinates

# Pictures are compared at this many pixels a side: fine enough for a region, quick.
SIDE = 256
ANGLES, RADII = 360, 256
# A hand-held photo of the same coral is turned and scaled no more than this: house rule.
TURN_MAX_DEG = 40.0
SCALE_MAX = 1.7
# Peak of the correlation over its own noise [deviations] below which nothing was found. Unrelated
# pictures reach 8, bare shapes without any grain 17; rendered photos of one thing 80
# (tests/photics/test_alignment.py).
SURE_PEAK = 25.0


@dataclass(frozen=True)
class Alignment:
    """Where a point of the earlier picture lies on the later: `transform` (2, 3) on shares."""

    transform: np.ndarray
    peak: float

    @property
    def sure(self):
        return self.peak >= SURE_PEAK


def align(earlier, later):
    """Return the Alignment of two pictures (h, w) or (h, w, 3) of any sizes.

    Turns up to 40 degrees and scales up to 1.7 either way are looked for.
    """
    first, second = prepared(earlier), prepared(later)
    turn_deg, scale = turn_and_scale(first, second)
    best = None
    # The transform's size is the same for a picture turned by half a turn; small turns only are
    # allowed, so the two candidates are the found one and none at all.
    for candidate in {(turn_deg, scale), (0.0, 1.0)}:
        matrix = turning(*candidate)
        moved = about_middle(first, matrix)
        shift, peak = phase_shift(moved, second)
        if best is None or peak > best[0]:
            best = (peak, matrix, shift)
    peak, matrix, shift = best
    from_square = np.linalg.inv(square_of(later))
    return Alignment((from_square @ on_square(matrix, shift) @ square_of(earlier))[:2], peak)


def square_of(picture):
    """Return the move (3, 3) from shares (x, y) of a picture to pixels of the square it lies in.

    The picture keeps its aspect: its longer side fills the square, so a turn stays a turn.
    """
    height, width = picture.shape[:2]
    sides = SIDE * np.array([width, height]) / max(width, height)
    move = np.diag([*sides, 1.0])
    move[:2, 2] = (SIDE - sides) / 2.0
    return move


def prepared(picture):
    """Return a picture as an edge map (SIDE, SIDE): fine light and dark, lamp and colour gone."""
    picture = np.asarray(picture, float)
    grey = picture.mean(-1) if picture.ndim == 3 else picture
    height, width = grey.shape
    back = np.linalg.inv(square_of(picture))
    across, down = np.arange(SIDE) + 0.5, np.arange(SIDE) + 0.5
    x, y = back[0, 0] * across + back[0, 2], back[1, 1] * down + back[1, 2]
    blurred = gaussian_filter(grey, max(height, width) / SIDE / 2.0)
    places = np.meshgrid(y * height - 0.5, x * width - 0.5, indexing="ij")
    light = map_coordinates(blurred, places, order=1, mode="nearest")
    log = np.log(np.maximum(light, 0.0) + 8.0)
    fine = gaussian_filter(log, 1.0) - gaussian_filter(log, 12.0)
    fine /= np.sqrt(gaussian_filter(fine**2, 16.0)) + 1e-3
    # Fades out towards the picture's own rim, which would else say "no move" loudly.
    return fine * np.outer(fading(y), fading(x))


def fading(share):
    """Return a window (n,) over shares of a side: 1 in the middle, 0 from the rim on."""
    return np.where((share > 0) & (share < 1), np.sin(np.pi * np.clip(share, 0, 1)) ** 2, 0.0)


def turn_and_scale(first, second):
    """Return the turn [degrees] and scale that lay the first edge map on the second."""
    base = (SIDE / 2.0) ** (1.0 / RADII)
    ones, twos = (log_polar(picture, base) for picture in (first, second))
    surface = correlation(ones, twos)
    # Angles span half a turn: the size of a transform is the same on both sides.
    step_deg = 180.0 / ANGLES
    down = signed(np.arange(ANGLES), ANGLES) * step_deg
    across = signed(np.arange(RADII), RADII)
    near = np.abs(down)[:, None] <= TURN_MAX_DEG
    near = near & (np.abs(across)[None, :] <= np.log(SCALE_MAX) / np.log(base))
    row, column = np.unravel_index(np.argmax(np.where(near, surface, -np.inf)), surface.shape)
    # A larger picture has its frequencies nearer to the middle.
    return float(down[row]), float(base ** -across[column])


def log_polar(picture, base):
    """Return the size of a picture's transform in log-polar coordinates (ANGLES, RADII)."""
    size = np.log1p(np.abs(fftshift(fft2(picture))))
    angles = np.pi * np.arange(ANGLES) / ANGLES
    radii = base ** np.arange(RADII)
    rows = SIDE / 2.0 + np.outer(np.sin(angles), radii)
    columns = SIDE / 2.0 + np.outer(np.cos(angles), radii)
    found = map_coordinates(size, [rows, columns], order=1, mode="nearest")
    # Near the middle there are few frequencies, all alike: they would say "no turn" loudly.
    found = found - found.mean(axis=0, keepdims=True)
    return found * np.hanning(RADII)[None, :]


def correlation(first, second):
    """Return the phase correlation of two maps of one shape: its peak is the shift to `second`."""
    cross = fft2(second) * np.conj(fft2(first))
    return np.real(ifft2(cross / np.maximum(np.abs(cross), 1e-9)))


def phase_shift(first, second):
    """Return the shift (rows, columns) [px] of the first edge map to the second, and its peak."""
    # Smoothed, so that a shift between pixels keeps one peak.
    surface = gaussian_filter(correlation(first, second), 1.0, mode="wrap")
    row, column = np.unravel_index(np.argmax(surface), surface.shape)
    peak = (surface[row, column] - np.median(surface)) / max(surface.std(), 1e-12)
    shift = signed(np.array([row, column]), SIDE)
    return shift.astype(float), float(peak)


def signed(index, count):
    """Return indices of a round transform as shifts to either side."""
    return np.where(index > count // 2, index - count, index)


def turning(turn_deg, scale):
    """Return the matrix (2, 2) on (row, column) that turns and scales."""
    angle = np.radians(turn_deg)
    return scale * np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def about_middle(picture, matrix):
    """Return a map turned and scaled about its middle."""
    back = np.linalg.inv(matrix)
    middle = np.array([SIDE / 2.0, SIDE / 2.0])
    return affine_transform(picture, back, offset=middle - back @ middle, order=1)


def on_square(matrix, shift):
    """Return the move (3, 3) on (x, y) pixels of the square of one on (row, column)."""
    swap = np.array([[0.0, 1.0], [1.0, 0.0]])
    on_xy = swap @ matrix @ swap
    middle = np.array([SIDE / 2.0, SIDE / 2.0])
    move = np.eye(3)
    move[:2, :2] = on_xy
    move[:2, 2] = middle - on_xy @ middle + shift[::-1]
    return move
