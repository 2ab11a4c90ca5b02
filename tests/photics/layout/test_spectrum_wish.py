"""Mixing channels for a wished colour: the most light within it, against a hand-worked mix."""

import itertools

import numpy as np
import pytest

from apps.photics.day.spectrum import Channel
from apps.photics.layout.advice.spectrum_wish import SpectrumWish, colour_mix

ROYAL, WHITE, RED = Channel("Royal", 450), Channel("White", white_kelvin=6500), Channel("Red", 660)
WEIGHTS = (50.0, 40.0, 10.0)


def test_no_bound_leaves_all_light():
    mix = colour_mix([ROYAL, WHITE, RED], WEIGHTS, SpectrumWish())
    assert mix.levels == pytest.approx((1, 1, 1)) and mix.left == pytest.approx(1)
    assert sum(mix.proportions) == pytest.approx(1, abs=0.01)


def test_two_narrow_channels_mix_as_worked_by_hand():
    # Blue alone is all blue and red alone all red (to a few per mille): at most 60 % blue of
    # 80 + 20 means 30 blue beside 20 red, so blue at 37.5 % and half the light left.
    mix = colour_mix([ROYAL, RED], (80.0, 20.0), SpectrumWish(blue=(0.0, 0.6)))
    assert mix.levels == pytest.approx((0.375, 1.0), abs=0.01)
    assert mix.left == pytest.approx(0.5, abs=0.01)
    assert mix.proportions.blue == pytest.approx(0.6, abs=1e-6)


def test_no_mix_of_a_grid_leaves_more_light():
    wish = SpectrumWish(blue=(0.3, 0.45), red=(0.15, 1.0))
    channels, part = [ROYAL, WHITE, RED], np.array(WEIGHTS) / 100
    mix = colour_mix(channels, WEIGHTS, wish)
    colours = np.array([channel.spectrum.proportions for channel in channels])
    best = 0.0
    for levels in itertools.product(np.linspace(0, 1, 41), repeat=3):
        light = part * levels
        blue, _, red = light @ colours / max(light.sum(), 1e-9)
        if 0.3 <= blue <= 0.45 and red >= 0.15:
            best = max(best, float(light.sum()))
    assert best <= mix.left + 1e-9 and mix.left - best < 0.03


def test_colour_no_channel_has_is_none():
    assert colour_mix([ROYAL], (1.0,), SpectrumWish(red=(0.5, 1.0))) is None


@pytest.mark.parametrize(
    "bands",
    [
        {"blue": (0.6, 0.5)},
        {"blue": (-0.1, 0.5)},
        {"blue": (0.6, 1.0), "red": (0.5, 1.0)},
        {"blue": (0.0, 0.2), "green": (0.0, 0.2), "red": (0.0, 0.2)},
    ],
)
def test_bands_that_are_no_whole_light_are_refused(bands):
    with pytest.raises(ValueError, match=r"proportion|whole"):
        SpectrumWish(**bands)
