"""Colour conversions and CIEDE2000 against published values and an independent program."""

import csv

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import (
    D50,
    chroma,
    hue_deg,
    lab_of_linear,
    linear_of_lab,
    linear_of_srgb,
    srgb_of_linear,
    to_lab,
)
from tests.paths import DATA

CHECKS = DATA / "checks"


def rows(name):
    with (CHECKS / name).open() as file:
        return list(csv.DictReader(file))


# Sharma, Wu & Dalal 2005, Table 1, doi:10.1002/col.20070.
SHARMA = rows("ciede2000_sharma2005.csv")
# IEC 61966-2-1 colours with CIELAB by the seven-digit matrix under D65.
TABLE = rows("srgb_xyz_lab_d65.csv")


def pair(row):
    return [[float(row[f"{axis}{side}"]) for axis in "Lab"] for side in "12"]


@pytest.mark.parametrize("row", SHARMA, ids=lambda row: f"pair {row['pair']}")
def test_published_pairs(row):
    wanted = {float(row["dE00_published"])}
    if row["pair"] == "14":
        # Its hues are 180 degrees apart but for rounding: the neighbour's branch is as right.
        wanted.add(4.7461)
    found = float(ciede2000(*pair(row)))
    # The table is printed with four digits.
    assert min(abs(found - value) for value in wanted) <= 5.1e-5


def test_all_pairs_were_read():
    assert len(SHARMA) == 34


def test_difference_does_not_depend_on_the_order():
    # Pair 14 alone may take another branch when turned round.
    pairs = np.array([pair(row) for row in SHARMA if row["pair"] != "14"])
    assert ciede2000(pairs[:, 0], pairs[:, 1]) == pytest.approx(
        ciede2000(pairs[:, 1], pairs[:, 0]), abs=1e-9
    )


def test_black_to_white_is_a_hundred():
    assert float(ciede2000([0, 0, 0], [100, 0, 0])) == pytest.approx(100.0, abs=1e-9)


def test_same_colour_differs_by_nothing():
    assert float(ciede2000([40, 12, -7], [40, 12, -7])) == 0.0


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row["hex"])
def test_srgb_to_lab_table(row):
    code = [int(row["hex"][i : i + 2], 16) / 255 for i in (0, 2, 4)]
    wanted = [float(row[name]) for name in ("L_7dig_D65_095047", "a_7dig", "b_7dig")]
    # Digits of matrix and white shift published tables among each other by up to 0.03.
    assert lab_of_linear(linear_of_srgb(code)) == pytest.approx(wanted, abs=0.03)


def test_scikit_image_agrees_on_lab():
    codes = np.random.default_rng(5).random((500, 3))
    ours = lab_of_linear(linear_of_srgb(codes))
    # It has a matrix of six digits.
    assert np.abs(ours - rgb2lab(codes)).max() < 0.02


def test_scikit_image_agrees_on_ciede2000():
    rng = np.random.default_rng(6)
    low, high = [0, -90, -90], [100, 90, 90]
    one, two = rng.uniform(low, high, (2, 2000, 3))
    assert np.abs(ciede2000(one, two) - deltaE_ciede2000(one, two)).max() < 1e-9


def test_code_and_light_lead_back_to_each_other():
    codes = np.linspace(0, 1, 256)
    assert srgb_of_linear(linear_of_srgb(codes)) == pytest.approx(codes, abs=1e-6)


def test_lab_and_light_lead_back_to_each_other():
    light = np.random.default_rng(7).random((50, 3))
    assert linear_of_lab(lab_of_linear(light)) == pytest.approx(light, abs=1e-6)


def test_another_white_may_be_given():
    assert to_lab(D50, white=D50) == pytest.approx([100, 0, 0], abs=1e-9)


def test_chroma_and_hue():
    yellow = np.array([80.0, 0.0, 30.0])
    assert (chroma(yellow), hue_deg(yellow)) == (30.0, 90.0)
