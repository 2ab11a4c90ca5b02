"""Photographs rendered from spectra: invented corals and a card under a lamp, seen by a camera.

Lamp, reflectance and camera meet wavelength by wavelength, so that a camera's red is not the
standard's red and a blue lamp really takes red away: nothing here is the method's own formula.
"""

import io

import numpy as np
from PIL import Image

from apps.photics.colour.cielab import D65, XYZ_OF_RGB, srgb_of_linear, to_lab
from apps.photics.day.spectrum import (
    COLOUR_MATCHING,
    WAVELENGTH_NM,
    Channel,
    matching,
    mixed,
    planck,
)
from apps.photics.ground.regions import BOX, ELLIPSE, Region

MATCHING = np.stack([matching(gaussians) for gaussians in COLOUR_MATCHING])
# A camera's three filters: middle and width [nm], made up but of the usual kind.
FILTERS_NM = ((595.0, 80.0), (545.0, 90.0), (450.0, 50.0))
CAMERA = np.stack([np.exp(-4 * np.log(2) * ((WAVELENGTH_NM - m) / w) ** 2) for m, w in FILTERS_NM])
WHITE_LAMP = mixed([Channel("white", white_kelvin=6500)], [1.0]).power
COLD_LAMP = mixed([Channel("white", white_kelvin=10_000)], [1.0]).power
MIXED_LAMP = mixed([Channel("white", white_kelvin=8000), Channel("blue", peak_nm=450)],
                   [1.0, 0.6]).power  # fmt: skip
BLUE_LAMP = mixed([Channel("white", white_kelvin=8000), Channel("blue", peak_nm=450)],
                  [0.12, 1.0]).power  # fmt: skip


def lobe(middle, width):
    return np.exp(-0.5 * ((WAVELENGTH_NM - middle) / width) ** 2)


# What symbionts take away, roughly: chlorophyll and peridinin, blue-green and far red.
PIGMENT = 1.0 * lobe(440, 35) + 0.75 * lobe(495, 35) + 0.25 * lobe(600, 45) + 0.6 * lobe(672, 14)
SKELETON = 0.80 + 0.08 * (WAVELENGTH_NM - 580) / 200
HOST = {
    "green": 1.0 - 0.55 * lobe(430, 35) - 0.6 * lobe(640, 55),
    "violet": 1.0 - 0.65 * lobe(570, 38),
    "rose": 1.0 - 0.6 * lobe(525, 40),
    "blue": 1.0 - 0.75 * lobe(610, 55),
    "orange": 1.0 - 0.75 * lobe(470, 55),
    "plain": np.ones_like(WAVELENGTH_NM),
}


def coral(host="plain", symbionts=1.0):
    """The reflectance (401,) of a coral with a host pigment and a density of symbionts."""
    return SKELETON * HOST[host] * np.exp(-symbionts * (0.45 + 0.5 * PIGMENT))


def true_lab(reflectance, lamp=WHITE_LAMP):
    """CIELAB of a reflectance as an eye used to the lamp sees it."""
    return to_lab(MATCHING @ (reflectance * lamp) / (MATCHING @ lamp) * D65)


def colour_matrix():
    """The camera's own matrix to sRGB: least squares over common reflectances under white."""
    middles, widths = np.arange(400, 700, 20), (15.0, 40.0, 90.0)
    surfaces = [0.1 + 0.8 * lobe(m, w) for m in middles for w in widths]
    surfaces += [0.9 - 0.8 * lobe(m, w) for m in middles for w in widths]
    light = np.array(surfaces) * planck(6504.0)
    camera = light @ CAMERA.T / (CAMERA @ planck(6504.0))
    white = MATCHING @ planck(6504.0)
    srgb = (light @ MATCHING.T / white * D65) @ np.linalg.inv(XYZ_OF_RGB).T
    return np.linalg.lstsq(camera, srgb, rcond=None)[0]


MATRIX = colour_matrix()
CARD = np.full_like(WAVELENGTH_NM, 0.90)
CARD_AT = Region(BOX, ((0.06, 0.10), (0.30, 0.60)))
CORAL_AT = Region(ELLIPSE, ((0.42, 0.15), (0.90, 0.85)))


def photograph(reflectance, *, lamp=WHITE_LAMP, balance=(1.0, 1.0, 1.0), balanced_for=None,
               exposure=0.75, card=CARD, size=(240, 180), seed=0, shimmer=0.15):  # fmt: skip
    """Render a photo (h, w, 3) of a coral beside a card, as sRGB codes that went through JPEG.

    `exposure` is the linear light of the card's brightest channel; `balanced_for` the lamp the
    camera takes for white, the white one unless told; `balance` gains of one that is off.
    """
    rng = np.random.default_rng(seed)
    width, height = size
    x, y = np.meshgrid((np.arange(width) + 0.5) / width, (np.arange(height) + 0.5) / height)
    surface = np.full((height, width), 2)
    surface[(np.abs(x - 0.18) < 0.14) & (np.abs(y - 0.35) < 0.30)] = 0
    inside = ((x - 0.66) / 0.27) ** 2 + ((y - 0.5) / 0.40) ** 2 <= 1
    surface[inside] = 1
    rock = np.full_like(WAVELENGTH_NM, 0.12)
    raw = np.stack([CAMERA @ (r * lamp) for r in (card, reflectance, rock)])
    gains = balance / (CAMERA @ (WHITE_LAMP if balanced_for is None else balanced_for))
    light = raw[surface] * gains
    # Caustics in the water, polyps on the coral, and glints on its skin.
    wave = np.sin(39 * x + 53 * y) * np.sin(67 * x - 28 * y)
    texture = rng.normal(0, 0.12, (height, width)) * inside
    light = light * np.exp(shimmer * wave + texture)[..., None]
    glint = inside & (rng.random((height, width)) < 0.03)
    light[glint] += (CAMERA @ lamp) * gains
    linear = light @ MATRIX * exposure / ((raw[0] * gains) @ MATRIX).max()
    linear = np.maximum(linear + rng.normal(0, 0.004, linear.shape), 0)
    return through_jpeg(np.round(srgb_of_linear(linear) * 255).astype(np.uint8))


def through_jpeg(codes):
    out = io.BytesIO()
    Image.fromarray(codes).save(out, "JPEG", quality=85)
    return np.asarray(Image.open(out))
