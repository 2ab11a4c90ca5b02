"""Photographs of the demo: an invented coral on a rock, a white card and a ruler, drawn here.

The scene is painted in linear light, lit, balanced wrongly as cameras do, and encoded; the colour
of the coral is told in CIELAB, so that what the app measures can be held against what was painted.
"""

import io
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import ExifTags, Image
from scipy.ndimage import gaussian_filter

from apps.corals.photo_cleaning import CleanPhoto, clean_photo
from apps.photics.colour.cielab import linear_of_lab, srgb_of_linear
from apps.photics.ground.regions import BOX, ELLIPSE, Region

WIDTH, HEIGHT = 720, 540
CARD_LIGHT = 0.90
CARD_AT = Region(BOX, ((0.08, 0.58), (0.24, 0.82)))
# Where the branches stand densest, whatever the size.
CORAL_AT = Region(ELLIPSE, ((0.48, 0.50), (0.68, 0.78)))
RULER_AT = ((0.08, 0.90), (0.28, 0.90))
RULER_CM = 4.0
MIDDLE = (0.58, 0.58)
PHOTO_BYTES_MAX = 10_000_000


@dataclass(frozen=True)
class Shot:
    """One photo: the coral's colour and radius, and how camera and lamp were off."""

    lab: tuple[float, float, float]
    radius: float = 0.24  # of the picture's width
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    exposure: float = 0.7
    shift: tuple[float, float] = (0.0, 0.0)
    seed: int = 0
    camera: str = "painted by the demo"


class SentPhoto(io.BytesIO):
    """A file as a browser sends it."""

    @property
    def size(self):
        return len(self.getvalue())


@lru_cache(maxsize=64)
def demo_photo(shot) -> CleanPhoto:
    """Return the photo of a Shot, through the same gate as any that is sent."""
    out = SentPhoto()
    exif = Image.Exif()
    exif[ExifTags.Base.Model] = shot.camera
    Image.fromarray(painted(shot)).save(out, "JPEG", quality=90, exif=exif)
    return clean_photo(out, bytes_max=PHOTO_BYTES_MAX)


def painted(shot):
    """Return the codes (HEIGHT, WIDTH, 3) of a Shot, uint8."""
    rng = np.random.default_rng(shot.seed)
    x, y = np.meshgrid((np.arange(WIDTH) + 0.5) / WIDTH, (np.arange(HEIGHT) + 0.5) / HEIGHT)
    x, y = x - shot.shift[0], y - shot.shift[1]
    light = background(x, y)
    coral, shade = branches(x, y, shot.radius)
    light[coral] = linear_of_lab(np.array(shot.lab)) * shade[coral][:, None]
    light[inside(CARD_AT, x, y)] = CARD_LIGHT
    ruler(light, x, y)
    # Ripples, then glints on what is wet.
    ripple = gaussian_filter(rng.normal(size=x.shape), 9.0)
    light *= np.exp(0.10 * ripple / ripple.std())[..., None]
    light[coral & (rng.random(x.shape) < 0.01)] += 0.5
    light = light * shot.balance * shot.exposure
    light = np.maximum(light + rng.normal(0, 0.003, light.shape), 0.0)
    return np.round(255 * srgb_of_linear(light)).astype(np.uint8)


def inside(region, x, y):
    left, top, right, bottom = region.ends()
    pad = 0.012
    return (x > left - pad) & (x < right + pad) & (y > top - pad) & (y < bottom + pad)


@lru_cache(maxsize=1)
def grain():
    """Return the grain of the rock over a frame wider than the photo; the same in every photo."""
    rng = np.random.default_rng(11)
    layers = [gaussian_filter(rng.normal(size=(700, 900)), s) * s for s in (1.5, 4, 10, 24)]
    total = sum(layers)
    return total / total.std()


def background(x, y):
    """Return rock below and water above, in linear light (h, w, 3)."""
    rough = looked_up(x, y)
    edge = 0.42 + 0.05 * np.sin(7 * x) + 0.02 * rough
    rock = np.clip(0.10 + 0.035 * rough, 0.01, 0.4)[..., None] * np.array([1.0, 0.82, 0.74])
    water = np.clip(0.05 + 0.03 * (1 - y), 0.01, 1)[..., None] * np.array([0.35, 0.75, 1.0])
    return np.where((y > edge)[..., None], rock, water)


def looked_up(x, y):
    """Return the grain at places of the scene (h, w)."""
    rows = np.clip(((y + 0.15) / 1.3 * 700).astype(int), 0, 699)
    columns = np.clip(((x + 0.15) / 1.3 * 900).astype(int), 0, 899)
    return grain()[rows, columns]


def branches(x, y, radius):
    """Return where the coral is (h, w) and how much light falls there [1]: a fan of branches."""
    dx, dy = (x - MIDDLE[0]), (y - MIDDLE[1] - 0.12) * HEIGHT / WIDTH
    away, angle = np.hypot(dx, dy), np.arctan2(-dy, dx)
    coral = away < reach_of(angle, radius)
    ridges = 0.5 + 0.5 * np.cos(22 * angle + 40 * away) * np.clip(away / radius, 0, 1)
    polyps = 0.5 + 0.5 * np.cos(230 * x) * np.cos(230 * y * HEIGHT / WIDTH)
    return coral, 0.82 + 0.22 * ridges + 0.10 * polyps


def reach_of(angle, radius):
    """Return how far the branches reach at angles (...) [share of the width]; less downwards."""
    return radius * (0.86 + 0.14 * np.cos(11 * angle)) * (1.0 + 0.45 * np.minimum(np.sin(angle), 0))


def rim(radius):
    """Return the coral's outline as a keeper would draw it, around the tips: (k, 2) shares."""
    angle = 2.0 * np.pi * np.arange(44) / 44
    reach = reach_of(angle, radius)
    across = MIDDLE[0] + reach * np.cos(angle)
    down = MIDDLE[1] + 0.12 - reach * np.sin(angle) * WIDTH / HEIGHT
    return tuple((float(x), float(y)) for x, y in zip(across, down, strict=True))


def ruler(light, x, y):
    """Paint a ruler whose four marks are a centimetre apart."""
    (left, level), (right, _) = RULER_AT
    light[(x > left - 0.01) & (x < right + 0.01) & (np.abs(y - level) < 0.025)] = 0.6
    for tick in np.linspace(left, right, 5):
        light[(np.abs(x - tick) < 0.002) & (np.abs(y - level) < 0.02)] = 0.02
