"""Colour spaces: published primaries, white and curves come out, and nothing is cut off inside."""

import numpy as np
import pytest

from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import D65, XYZ_OF_RGB, lab_of_linear
from apps.photics.colour.colour_space import (
    ADOBE_RGB,
    DISPLAY_P3,
    PRIMARIES,
    SRGB,
    WIDEST,
    linear_of_hlg,
    linear_of_pq,
    recoded,
    rgb_to_xyz,
    space_by_number,
    space_of,
)


def to_xyz(space):
    return XYZ_OF_RGB @ space.to_srgb


def test_display_p3_has_its_published_matrix():
    # SMPTE EG 432-1 under D65, as CSS Color 4 prints it (sample code, lin_P3_to_XYZ).
    published = [[0.48657, 0.26567, 0.19822], [0.22897, 0.69174, 0.07929], [0.0, 0.04511, 1.04394]]
    assert to_xyz(DISPLAY_P3) == pytest.approx(np.array(published), abs=3e-4)


def test_adobe_rgb_has_its_published_matrix():
    # Adobe RGB (1998), version 2005-05, 4.3.5.3.
    published = [
        [0.57667, 0.18556, 0.18823],
        [0.29734, 0.62736, 0.07529],
        [0.02703, 0.07069, 0.99134],
    ]
    assert to_xyz(ADOBE_RGB) == pytest.approx(np.array(published), abs=3e-4)


@pytest.mark.parametrize("number", PRIMARIES)
def test_white_of_every_space_is_white(number):
    space = space_by_number(number, 13)
    assert space.linear_srgb(np.ones(3)) == pytest.approx(np.ones(3), abs=2e-3)


def test_another_white_is_adapted():
    assert rgb_to_xyz(*PRIMARIES[11]).sum(1) == pytest.approx(D65, abs=2e-3)


@pytest.mark.parametrize(
    "corners",
    [
        ((0.3, 0.3), (0.3, 0.3), (0.3, 0.3)),
        ((0.64, 0.33), (0.3, 0.0), (0.15, 0.06)),
        ((0.1, 0.1), (0.2, 0.2), (0.3, 0.3)),
    ],
)
def test_primaries_that_span_nothing_are_refused(corners):
    with pytest.raises(ValueError, match="span"):
        space_of("none", *corners)


def test_white_of_pq_is_203_candela():
    # ITU-R BT.2408, table 1: diffuse white is 58 % of PQ's signal and 75 % of HLG's.
    assert float(linear_of_pq(np.array(0.581))) == pytest.approx(1.0, abs=0.01)
    assert float(linear_of_pq(np.array(1.0))) == pytest.approx(10_000 / 203, rel=1e-6)


def test_hlg_is_scene_light_over_white():
    assert linear_of_hlg(np.array([0.0, 0.75])) == pytest.approx([0.0, 1.0])
    # ITU-R BT.2100, table 5: half the signal is a twelfth of its brightest light.
    assert float(np.divide(*linear_of_hlg(np.array([0.5, 1.0])))) == pytest.approx(1 / 12, rel=1e-3)


@pytest.mark.parametrize("numbers", [(1, 13), (2, 2), (99, 99)])
def test_unspecified_numbers_count_as_srgb(numbers):
    assert space_by_number(*numbers) is SRGB


def test_p3_by_number_is_the_one_space():
    assert space_by_number(12, 13) is DISPLAY_P3


def test_recoding_there_and_back_keeps_colours_to_a_code():
    rng = np.random.default_rng(1)
    codes = rng.integers(40, 256, (20, 20, 3), dtype=np.uint8)
    there = recoded(codes, source=SRGB, target=DISPLAY_P3)
    back = recoded(there, source=DISPLAY_P3, target=SRGB).astype(int)
    assert np.abs(back - codes).max() <= 2


@pytest.mark.parametrize("space", [DISPLAY_P3, ADOBE_RGB, WIDEST], ids=lambda s: s.name)
def test_colour_beyond_srgb_keeps_its_negative_part(space):
    green = space.linear_srgb(space.curve(np.array([0.2, 0.8, 0.2])))
    assert green.min() < 0
    held = lab_of_linear(np.clip(green, 0, 1))
    assert float(ciede2000(lab_of_linear(green), held)) > 2
