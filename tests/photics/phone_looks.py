"""Simulated phones: what each makes of one scene, with the truth of every colour in it known.

A look is a camera's filters, its saturation, its tone curve, its sharpening; all are made up, and
drawn wider apart than one maker's phones are. Scenes meet lamp, reflectance and filters wavelength
by wavelength as in `rendered`, whose corals they show beside a white card or our printed one.
"""

from dataclasses import dataclass, field
from functools import cache

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.optimize import least_squares

from apps.photics.colour.card_layout import COLUMNS, LABS, PATCH_PART, ROWS
from apps.photics.colour.cielab import D65, XYZ_OF_RGB, srgb_of_linear
from apps.photics.day.spectrum import WAVELENGTH_NM, planck
from apps.photics.ground.regions import BOX, ELLIPSE, OUTLINE, Region
from tests.photics.rendered import (
    FILTERS_NM,
    MATCHING,
    WHITE_LAMP,
    lobe,
    through_jpeg,
    true_lab,
)

SIZE = (400, 300)
CARD_AT = Region(BOX, ((0.06, 0.10), (0.30, 0.60)))
CORAL_AT = Region(ELLIPSE, ((0.56, 0.15), (0.94, 0.85)))
# Corners of our printed card in the photo: as held, turned, tilted and small.
QUADS = {
    "straight": ((0.04, 0.15), (0.48, 0.15), (0.48, 0.59), (0.04, 0.59)),
    "turned": ((0.10, 0.08), (0.49, 0.25), (0.37, 0.72), (0.02, 0.55)),
    "upside down": ((0.48, 0.62), (0.05, 0.60), (0.05, 0.18), (0.48, 0.20)),
    "tilted": ((0.04, 0.20), (0.46, 0.12), (0.50, 0.66), (0.06, 0.56)),
    "small": ((0.10, 0.20), (0.42, 0.21), (0.41, 0.53), (0.09, 0.52)),
}


@dataclass(frozen=True, eq=False)
class Look:
    """What one phone in one mode does to light."""

    filters_nm: tuple[tuple[float, float], ...] = FILTERS_NM
    saturation: float = 1.0
    gamma: float = 1.0
    contrast: float = 0.0
    sharpening: float = 0.0
    sensitivity: np.ndarray = field(init=False)
    matrix: np.ndarray = field(init=False)

    def __post_init__(self):
        filters = [np.exp(-4 * np.log(2) * ((WAVELENGTH_NM - m) / w) ** 2)
                   for m, w in self.filters_nm]  # fmt: skip
        object.__setattr__(self, "sensitivity", np.stack(filters))
        object.__setattr__(self, "matrix", colour_matrix(self.sensitivity))


def colour_matrix(sensitivity):
    """A camera's own matrix to sRGB, as its maker fits it: common reflectances under white."""
    middles, widths = np.arange(400, 700, 20), (15.0, 40.0, 90.0)
    surfaces = [0.1 + 0.8 * lobe(m, w) for m in middles for w in widths]
    surfaces += [0.9 - 0.8 * lobe(m, w) for m in middles for w in widths]
    light = np.array(surfaces) * planck(6504.0)
    camera = light @ sensitivity.T / (sensitivity @ planck(6504.0))
    srgb = (light @ MATCHING.T / (MATCHING @ planck(6504.0)) * D65) @ np.linalg.inv(XYZ_OF_RGB).T
    return np.linalg.lstsq(camera, srgb, rcond=None)[0]


def drawn_look(rng):
    """A phone at random."""
    return Look(
        filters_nm=tuple((m + rng.normal(0, 4), w * np.exp(rng.normal(0, 0.06)))
                         for m, w in FILTERS_NM),
        saturation=rng.uniform(0.90, 1.30),
        gamma=rng.uniform(0.90, 1.12),
        contrast=rng.uniform(0.0, 0.40),
        sharpening=rng.uniform(0.0, 1.0),
    )  # fmt: skip


INKS = np.stack([lobe(650, 60), lobe(545, 42), lobe(435, 42)])
PAPER = np.full_like(WAVELENGTH_NM, 0.90)


@cache
def ink_amounts():
    """How much of cyan, magenta, yellow and black a true print has of each patch, (n, 4)."""
    rows = []
    for lab in LABS:
        if not lab[1:].any():
            black = least_squares(
                lambda k, lab=lab: true_lab(PAPER * np.exp(-k))[0] - lab[0], [1.0]
            )
            rows.append([0.0, 0.0, 0.0, black.x[0]])
        else:
            inks = least_squares(
                lambda c, lab=lab: true_lab(PAPER * np.exp(-c @ INKS)) - lab, [0.5, 0.5, 0.5]
            )
            rows.append([*inks.x, 0.0])
    return np.array(rows)


def printed(gains=(1.0, 1.0, 1.0, 1.0)):
    """The reflectances (n, 401) of the patches by a printer that lays on inks by `gains`."""
    amounts = ink_amounts() * gains
    return PAPER * np.exp(-amounts[:, :3] @ INKS - amounts[:, 3:])


@dataclass(frozen=True)
class Scene:
    """One photo's circumstances; `shade` is the light on the card's shaded part over the rest."""

    reflectance: np.ndarray
    lamp: np.ndarray = field(default_factory=lambda: WHITE_LAMP)
    balanced_for: np.ndarray | None = None
    balance: tuple = (1.0, 1.0, 1.0)
    exposure: float = 0.7
    # The coral's light over the card's.
    uneven: float = 1.0
    quad: tuple | None = None
    print_gains: tuple = (1.0, 1.0, 1.0, 1.0)
    shade: float = 1.0
    shimmer: float = 0.12
    seed: int = 0


def homography(corners):
    """The matrix (3, 3) that takes the unit square to four corners."""
    rows = []
    for (u, v), (x, y) in zip(((0, 0), (1, 0), (1, 1), (0, 1)), corners, strict=True):
        rows.append([u, v, 1, 0, 0, 0, -x * u, -x * v])
        rows.append([0, 0, 0, u, v, 1, -y * u, -y * v])
    solved = np.linalg.solve(np.array(rows, float), np.ravel(corners))
    return np.append(solved, 1.0).reshape(3, 3)


def surfaces_of(scene, x, y):
    """Which surface each pixel shows (h, w), and how much light falls there."""
    surface, light = np.full(x.shape, 2), np.ones(x.shape)
    inside = ((x - 0.75) / 0.21) ** 2 + ((y - 0.5) / 0.40) ** 2 <= 1
    surface[inside], light[inside] = 1, scene.uneven
    if scene.quad is None:
        surface[(np.abs(x - 0.18) < 0.14) & (np.abs(y - 0.35) < 0.30)] = 0
        return surface, light, inside
    back = np.linalg.inv(homography(scene.quad))
    u, v, w = np.tensordot(back, np.stack([x, y, np.ones_like(x)]), axes=1)
    u, v = u / w, v / w
    surface[(np.abs(u - 0.5) < 0.58) & (np.abs(v - 0.5) < 0.60)] = 0
    column, row = np.floor(u * COLUMNS).astype(int), np.floor(v * ROWS).astype(int)
    off = np.maximum(np.abs(u * COLUMNS - column - 0.5), np.abs(v * ROWS - row - 0.5))
    on = (off < PATCH_PART / 2) & (np.abs(u - 0.5) < 0.5) & (np.abs(v - 0.5) < 0.5)
    surface[on] = 3 + row[on] * COLUMNS + column[on]
    # The shadow of a branch over a corner of the card.
    light[(surface != 1) & (u + 0.6 * v > 1.05)] *= scene.shade
    return surface, light, inside


def photograph(look, scene, size=SIZE):
    """The photo (h, w, 3) that a phone of a `look` takes of a scene, as sRGB codes after JPEG."""
    rng = np.random.default_rng(scene.seed)
    width, height = size
    x, y = np.meshgrid((np.arange(width) + 0.5) / width, (np.arange(height) + 0.5) / height)
    surface, light, inside = surfaces_of(scene, x, y)
    rock = np.full_like(WAVELENGTH_NM, 0.12)
    things = np.stack([PAPER, scene.reflectance, rock, *printed(scene.print_gains)])
    white = scene.lamp if scene.balanced_for is None else scene.balanced_for
    gains = np.array(scene.balance) / (look.sensitivity @ white)
    raw = (things * scene.lamp) @ look.sensitivity.T * gains @ look.matrix
    wave = np.sin(39 * x + 53 * y + scene.seed) * np.sin(67 * x - 28 * y)
    texture = rng.normal(0, 0.12, x.shape) * inside
    linear = raw[surface] * (light * np.exp(scene.shimmer * wave + texture))[..., None]
    glint = inside & (rng.random(x.shape) < 0.02)
    linear[glint] += raw[0]
    linear = linear * scene.exposure / raw[0].max()
    linear = linear + rng.normal(0, 0.004, linear.shape)
    return through_jpeg(np.round(255 * developed(look, linear)).astype(np.uint8))


def developed(look, linear):
    """Codes 0 to 1 of linear sRGB (h, w, 3), as the phone's look makes them."""
    grey = (linear @ XYZ_OF_RGB[1])[..., None]
    vivid = np.clip(grey + look.saturation * (linear - grey), 0, 1)
    code = srgb_of_linear(vivid**look.gamma)
    code = code - look.contrast * np.sin(2 * np.pi * code) / (2 * np.pi)
    if look.sharpening:
        blurred = gaussian_filter(code, (1.5, 1.5, 0))
        code = code + look.sharpening * (code - blurred)
    return np.clip(code, 0, 1)


def card_region(scene):
    """Our card's corners as a keeper taps them."""
    return Region(OUTLINE, tuple(scene.quad))
