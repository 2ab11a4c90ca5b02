"""Real photographs come out alike in every file, and say when they hold no colour."""

import io

import numpy as np
import pytest
from PIL import Image

from apps.corals.photo_cleaning import clean_photo, codes_of_file
from apps.corals.pictures.icc_profile import icc_profile
from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.colour_space import DISPLAY_P3, SRGB, WIDEST, recoded
from apps.photics.colour.coral_colour import measure
from apps.photics.colour.looks import ComparedColour, difference_between
from tests.corals.pictures import encoded, sent
from tests.corals.real_photos import CARD_AT, REAL, photographed
from tests.photics.phone_looks import Look, developed


def colour_of(content, region):
    clean = clean_photo(sent(content), bytes_max=10**8)
    codes, space = codes_of_file(io.BytesIO(clean.image))
    return measure(codes, space=space, reference=CARD_AT, regions=[region],
                   reference_kind="white", light="white")  # fmt: skip


def sent_as(codes, space, kind="PNG", **options):
    picture = Image.fromarray(recoded(codes, source=SRGB, target=space))
    return encoded(kind, picture, icc_profile=icc_profile(space), **options)


FILES = {
    "jpeg": lambda codes: encoded("JPEG", Image.fromarray(codes), quality=92),
    "png of display p3": lambda codes: sent_as(codes, DISPLAY_P3),
    "png of another space": lambda codes: sent_as(codes, WIDEST),
    "heic of display p3": lambda codes: sent_as(codes, DISPLAY_P3, "HEIF", quality=90),
    "webp": lambda codes: encoded("WEBP", Image.fromarray(codes), quality=90),
}


@pytest.mark.parametrize("make", FILES.values(), ids=FILES)
@pytest.mark.parametrize("name", REAL)
def test_colour_of_a_real_photo_is_the_same_in_every_file(name, make):
    codes, region = photographed(name)
    plain = colour_of(encoded("PNG", Image.fromarray(codes)), region)
    other = colour_of(make(codes), region)
    assert plain.measured and float(ciede2000(plain.lab, other.lab)) < 1.0


@pytest.mark.parametrize("name", REAL)
def test_real_photo_turned_black_and_white_is_refused(name):
    codes, region = photographed(name)
    grey = Image.fromarray(codes).convert("L")
    for content in (encoded("PNG", grey), encoded("JPEG", grey.convert("RGB"))):
        found = colour_of(content, region)
        assert [problem.key for problem in found.problems] == ["greyscale"]


@pytest.mark.parametrize("name", REAL)
def test_real_photo_under_a_yellow_light_is_told_too_warm(name):
    codes, region = photographed(name)
    linear = SRGB.linear_of_code[codes] * (1.0, 0.55, 0.09)
    warm = np.round(255 * linear ** (1 / 2.2)).astype(np.uint8)
    found = colour_of(encoded("PNG", Image.fromarray(warm)), region)
    assert "too_warm" in {problem.key for problem in found.problems}


# --- A real scene by simulated phones -----------------------------------------------------------
PLAIN, VIVID = Look(), Look(saturation=1.25, contrast=0.35, gamma=0.95, sharpening=0.6)


def by_phone(name, look, exposure=0.6):
    """The ComparedColour of a real photo's scene as a phone of a look would have taken it."""
    codes, region = photographed(name)
    shown = np.round(255 * developed(look, SRGB.linear_of_code[codes] * exposure))
    found = colour_of(encoded("PNG", Image.fromarray(shown.astype(np.uint8))), region)
    return ComparedColour(found.lab, found.covariance, "white", "white")


@pytest.mark.parametrize("name", REAL)
def test_real_scene_by_two_phones_is_no_change(name):
    before, after = by_phone(name, PLAIN), by_phone(name, VIVID)
    assert difference_between(after, before, same_look=False).low == 0


@pytest.mark.parametrize("look", [PLAIN, VIVID], ids=["plain", "vivid"])
@pytest.mark.parametrize("name", REAL)
def test_real_scene_by_one_phone_compares(name, look):
    before, after = by_phone(name, look, 0.55), by_phone(name, look, 0.60)
    apart = difference_between(after, before, same_look=True)
    assert apart.value < 1.1 and apart.low == 0
