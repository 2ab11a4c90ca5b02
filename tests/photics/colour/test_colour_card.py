"""Our printed card: a phone's look comes off, however the card lies; the residual is its error."""

import numpy as np
import pytest

from apps.photics.colour.card_layout import LABS, ORDER, PATCHES
from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import linear_of_lab
from apps.photics.colour.coral_colour import measure
from apps.photics.ground.regions import BOX, OUTLINE, Region
from tests.photics.phone_looks import (
    CORAL_AT,
    QUADS,
    Look,
    Scene,
    card_region,
    photograph,
    printed,
)
from tests.photics.rendered import COLD_LAMP, coral, planck, true_lab

# A phone that makes much of colours.
VIVID = Look(saturation=1.25, contrast=0.35, gamma=0.95, sharpening=0.6)
BROWN = coral("plain", 1.0)


def measured(look, scene, marked=None):
    return measure(photograph(look, scene), reference=marked or card_region(scene),
                   regions=[CORAL_AT], reference_kind="card", light="white")  # fmt: skip


def keys(found):
    return [problem.key for problem in found.problems]


def off(found, reflectance):
    return float(ciede2000(found.lab, true_lab(reflectance)))


def test_every_colour_lies_in_one_cell_and_can_be_printed():
    assert sorted(ORDER) == list(range(len(PATCHES)))
    light = linear_of_lab(LABS)
    assert light.min() > 0 and light.max() < 1


def test_patches_are_rendered_as_they_are_meant():
    assert float(ciede2000(np.array([true_lab(r) for r in printed()]), LABS).max()) < 1.0


@pytest.mark.parametrize("quad", QUADS)
def test_card_takes_a_phones_look_out_however_it_lies(quad):
    scene = Scene(coral("green", 0.5), quad=QUADS[quad], exposure=0.6)
    assert off(measured(VIVID, scene), scene.reflectance) < 2.0


def test_without_the_card_the_look_stays():
    scene = Scene(coral("green", 0.5), exposure=0.6)
    plain = measure(photograph(VIVID, scene), reference=Region(BOX, ((0.06, 0.10), (0.30, 0.60))),
                    regions=[CORAL_AT], reference_kind="white", light="white")  # fmt: skip
    assert off(plain, scene.reflectance) > 3.5


@pytest.mark.parametrize("start", range(4))
@pytest.mark.parametrize("way", [1, -1])
def test_corners_may_be_marked_from_any_and_either_way_round(start, way):
    scene = Scene(BROWN, quad=QUADS["turned"], exposure=0.6)
    corners = list(np.roll(QUADS["turned"], start, axis=0))[::way]
    marked = Region(OUTLINE, tuple(tuple(float(v) for v in corner) for corner in corners))
    first = measured(VIVID, scene)
    assert ciede2000(measured(VIVID, scene, marked).lab, first.lab) < 1e-6


def test_card_partly_in_shade_still_tells():
    scene = Scene(BROWN, quad=QUADS["straight"], shade=0.5, exposure=0.6)
    assert off(measured(VIVID, scene), BROWN) < 2.0


@pytest.mark.parametrize("lamp", [COLD_LAMP, planck(5000.0)], ids=["cold", "warm"])
def test_another_lamp_stays_within_what_is_told(lamp):
    scene = Scene(BROWN, quad=QUADS["straight"], lamp=lamp, exposure=0.6)
    found = measured(VIVID, scene)
    assert off(found, BROWN) < 3.0 * np.sqrt(np.trace(found.covariance) / 3)


def test_print_that_is_off_is_less_sure():
    true = measured(VIVID, Scene(BROWN, quad=QUADS["straight"], exposure=0.6))
    bad = Scene(BROWN, quad=QUADS["straight"], exposure=0.6, print_gains=(1.1, 0.92, 1.1, 0.9))
    found = measured(VIVID, bad)
    assert np.trace(found.covariance) > 1.5 * np.trace(true.covariance)


@pytest.mark.parametrize(
    ("marked", "key"),
    [
        (((0.04, 0.15), (0.48, 0.15), (0.48, 0.59)), "card_unclear"),
        (((0.04, 0.15), (0.48, 0.15), (0.26, 0.20), (0.26, 0.59)), "card_unclear"),
        (((0.60, 0.15), (0.95, 0.15), (0.95, 0.59), (0.60, 0.59)), "card_unclear"),
        (((0.04, 0.15), (0.09, 0.15), (0.09, 0.20), (0.04, 0.20)), "reference_small"),
    ],
)
def test_what_is_not_the_card_is_refused(marked, key):
    scene = Scene(BROWN, quad=QUADS["straight"], exposure=0.6)
    found = measured(VIVID, scene, Region(OUTLINE, marked))
    assert not found.measured and keys(found) == [key]


@pytest.mark.parametrize(("off_by", "known"), [(0.19, True), (0.20, False)])
def test_print_whose_patches_stay_nine_off_is_no_card_of_ours(off_by, known):
    more, less = 1.0 + off_by, 1.0 - off_by
    scene = Scene(BROWN, quad=QUADS["straight"], exposure=0.6, print_gains=(more, less) * 2)
    assert measured(VIVID, scene).measured == known


def test_a_box_is_no_card():
    scene = Scene(BROWN, quad=QUADS["straight"], exposure=0.6)
    found = measured(VIVID, scene, Region(BOX, ((0.04, 0.15), (0.48, 0.59))))
    assert keys(found) == ["card_unclear"]


def test_card_blown_out_is_refused():
    found = measured(VIVID, Scene(BROWN, quad=QUADS["straight"], exposure=1.4))
    assert keys(found) == ["reference_clipped"]
