"""How one photo lies on an earlier one of the same thing: shift, turn and scale, from the pictures.

The size of the Fourier transform does not feel a shift, so turn and scale are estimated there
first, as a shift in log-polar coordinates; then the shift itself. Both by phase correlation.
References: Kuglin & Hines 1975; Reddy & Chatterji 1996, doi:10.1109/83.506761.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.fft import fft2, fftshift, ifft2
from scipy.ndimage import affine_transform, gaussian_filter, map_coordinates

from apps.photics.ground.arrays import FloatArray, IntArray

# Pictures are compared at this many pixels a side. Chosen, because it is fine enough for a region
# and quick.
SIDE = 256
# Chosen, because half a degree and 2 % of scale are finer than a region needs.
ANGLES, RADII = 360, 256
# Chosen, because a hand-held photo of the same coral is turned and scaled no more than this.
TURN_MAX_DEG = 40.0
SCALE_MAX = 1.7
# Peak of the correlation over its own noise [deviations] below which they do not match. Chosen,
# because unrelated
# pictures reach 8, bare shapes without any grain 17; rendered photos of one thing 80
# (tests/photics/test_alignment.py).
SURE_PEAK = 25.0


@dataclass(frozen=True)
class Alignment:
    """Where a point of the earlier picture lies on the later.

    `transform` (2, 3) takes parts of width and height [1] to such parts; `peak` is that of the
    correlation over its own noise [deviations].
    """

    transform: FloatArray
    peak: float

    @property
    def sure(self) -> bool:
        """Whether the match is beyond chance."""
        return self.peak >= SURE_PEAK


def align(earlier: ArrayLike, later: ArrayLike) -> Alignment:
    """Return the Alignment of two pictures.

    `earlier` and `later` (h, w) or (h, w, 3) of any sizes, codes 0 to 255. Turns up to 40 degrees
    and scales up to 1.7 either way are looked for. Reference: Reddy & Chatterji 1996.
    """
    first, second = prepared(earlier), prepared(later)
    turn_deg, scale = turn_and_scale(first, second)
    # The transform's size is the same for a picture turned by half a turn; small turns only are
    # allowed, so the two candidates are the estimate and no turn at all.
    matches = []
    for turn, size in {(turn_deg, scale), (0.0, 1.0)}:
        matrix = turning(turn, scale=size)
        shift, peak = phase_shift(about_middle(first, matrix), second)
        matches.append((peak, matrix, shift))
    peak, matrix, shift = max(matches, key=lambda match: match[0])
    from_square = np.linalg.inv(square_of(np.asarray(later)))
    return Alignment(
        (from_square @ on_square(matrix, shift) @ square_of(np.asarray(earlier)))[:2], peak
    )


def square_of(picture: FloatArray) -> FloatArray:
    """Return the move (3, 3) from parts (x, y) of a picture [1] to pixels of the square around it.

    The `picture` (h, w, ...), of which only the shape counts, keeps its aspect: its longer side
    fills the square, so a turn stays a turn.
    """
    height, width = picture.shape[:2]
    sides = SIDE * np.array([width, height]) / max(width, height)
    move = np.diag([*sides, 1.0])
    move[:2, 2] = (SIDE - sides) / 2.0
    return move


def prepared(picture: ArrayLike) -> FloatArray:
    """Return a picture as an edge map (SIDE, SIDE) [1]: fine light and dark, lamp and colour gone.

    `picture` (h, w) or (h, w, 3), codes 0 to 255. Our own choice of filters: log light less its
    surroundings, over its local deviation, as a local change of lamp must not count.
    """
    codes = np.asarray(picture, float)
    grey = codes.mean(-1) if codes.ndim == 3 else codes
    height, width = grey.shape
    back = np.linalg.inv(square_of(codes))
    across, down = np.arange(SIDE) + 0.5, np.arange(SIDE) + 0.5
    x, y = back[0, 0] * across + back[0, 2], back[1, 1] * down + back[1, 2]
    blurred = gaussian_filter(grey, max(height, width) / SIDE / 2.0)
    places = np.meshgrid(y * height - 0.5, x * width - 0.5, indexing="ij")
    light = map_coordinates(blurred, places, order=1, mode="nearest")
    log = np.log(np.maximum(light, 0.0) + 8.0)
    fine = gaussian_filter(log, 1.0) - gaussian_filter(log, 12.0)
    fine /= np.sqrt(gaussian_filter(fine**2, 16.0)) + 1e-3
    # Fades out towards the picture's own rim, which would else claim "no move" loudly.
    edges: FloatArray = fine * np.outer(fading(y), fading(x))
    return edges


def fading(along: FloatArray) -> FloatArray:
    """Return a window (n,) [1] by the part `along` (n,) [1] of a side: 1 mid, 0 at the rim."""
    return np.where((along > 0) & (along < 1), np.sin(np.pi * np.clip(along, 0, 1)) ** 2, 0.0)


def turn_and_scale(first: FloatArray, second: FloatArray) -> tuple[float, float]:
    """Return the turn [degrees] and scale [1] that lay the `first` edge map on the `second`.

    `first` and `second` (SIDE, SIDE) [1]. Reference: Reddy & Chatterji 1996.
    """
    base = (SIDE / 2.0) ** (1.0 / RADII)
    ones, twos = (log_polar(picture, base=base) for picture in (first, second))
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


def log_polar(picture: FloatArray, *, base: float) -> FloatArray:
    """Return the size of a picture's transform in log-polar coordinates (ANGLES, RADII).

    `picture` (SIDE, SIDE) [1]; a step of radius is a factor `base` [1].
    """
    size = np.log1p(np.abs(fftshift(fft2(picture))))
    angles = np.pi * np.arange(ANGLES) / ANGLES
    radii = base ** np.arange(RADII)
    rows = SIDE / 2.0 + np.outer(np.sin(angles), radii)
    columns = SIDE / 2.0 + np.outer(np.cos(angles), radii)
    polar = map_coordinates(size, [rows, columns], order=1, mode="nearest")
    # Near the middle there are few frequencies, all alike: they would claim "no turn" loudly.
    polar = polar - polar.mean(axis=0, keepdims=True)
    windowed: FloatArray = polar * np.hanning(RADII)[None, :]
    return windowed


def correlation(first: FloatArray, second: FloatArray) -> FloatArray:
    """Return the phase correlation (h, w) [1] of `first` and `second` (h, w).

    Its peak is the shift to `second`. Reference: Kuglin & Hines 1975.
    """
    cross = fft2(second) * np.conj(fft2(first))
    surface: FloatArray = np.real(ifft2(cross / np.maximum(np.abs(cross), 1e-9)))
    return surface


def phase_shift(first: FloatArray, second: FloatArray) -> tuple[FloatArray, float]:
    """Return the shift (rows, columns) [px] of edge map `first` to `second`, and its peak [sd].

    `first` and `second` (SIDE, SIDE) [1]; the peak is over the surface's own deviation.
    """
    # Smoothed, so that a shift between pixels keeps one peak.
    surface = gaussian_filter(correlation(first, second), 1.0, mode="wrap")
    row, column = np.unravel_index(np.argmax(surface), surface.shape)
    peak = (surface[row, column] - np.median(surface)) / max(surface.std(), 1e-12)
    shift = signed(np.array([row, column]), SIDE)
    return shift.astype(float), float(peak)


def signed(index: IntArray, count: int) -> IntArray:
    """Return each `index` (n,) of a round transform of `count` as a shift to either side, (n,)."""
    return np.where(index > count // 2, index - count, index)


def turning(turn_deg: float, *, scale: float) -> FloatArray:
    """Return the matrix (2, 2) on (row, column) that turns by `turn_deg`, times `scale` [1]."""
    angle = np.radians(turn_deg)
    return scale * np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def about_middle(picture: FloatArray, matrix: FloatArray) -> FloatArray:
    """Return an edge map `picture` (SIDE, SIDE) moved by a `matrix` (2, 2) about its middle [1]."""
    back = np.linalg.inv(matrix)
    middle = np.array([SIDE / 2.0, SIDE / 2.0])
    offset = middle - back @ middle
    moved: FloatArray = affine_transform(picture, back, offset=offset, order=1)
    return moved


def on_square(matrix: FloatArray, shift: FloatArray) -> FloatArray:
    """Return the move (3, 3) on (x, y) pixels of the square of one on (row, column).

    `matrix` (2, 2) about the middle, then `shift` (2,) [px].
    """
    swap = np.array([[0.0, 1.0], [1.0, 0.0]])
    on_xy = swap @ matrix @ swap
    middle = np.array([SIDE / 2.0, SIDE / 2.0])
    move = np.eye(3)
    move[:2, :2] = on_xy
    move[:2, 2] = middle - on_xy @ middle + shift[::-1]
    return move
