"""What a file says of its colours is understood, in every format and mode, and kept wide."""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from apps.corals.photo_cleaning import clean_photo, codes_of_file
from apps.corals.pictures.icc_profile import icc_profile
from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import lab_of_linear
from apps.photics.colour.colour_space import (
    ADOBE_RGB,
    DISPLAY_P3,
    SRGB,
    WIDEST,
    ColourSpace,
    power,
    space_by_number,
)
from tests.corals.pictures import encoded, sent

# Within Display P3, beyond sRGB: a coral's green and a violet, as codes of Display P3; and a brown.
PATCHES = np.array([[10, 200, 60], [150, 40, 210], [150, 120, 90]], np.uint8)
SRGB_BROWN = np.array([150, 120, 90], np.uint8)


def plain(codes, mode="RGB"):
    """A picture of one colour."""
    return Image.fromarray(np.broadcast_to(codes, (48, 64, 3)).astype(np.uint8)).convert(mode)


def kept(content):
    """The colour [linear sRGB] and space of a file as it is kept."""
    clean = clean_photo(sent(content), bytes_max=10**7)
    codes, space = codes_of_file(io.BytesIO(clean.image))
    return space.linear_srgb(space.linear_of_code[codes]).mean((0, 1)), space


def stated(codes, space):
    return space.linear_srgb(space.linear_of_code[np.asarray(codes)])


def same_colour(one, two, most=1.5):
    return float(ciede2000(lab_of_linear(one), lab_of_linear(two))) < most


def with_chunk(content, name, data):
    """A PNG with one more chunk after its head."""
    crc = zlib.crc32(name + data).to_bytes(4, "big")
    at = 8 + 25
    return content[:at] + struct.pack(">I", len(data)) + name + data + crc + content[at:]


P3_ICC = icc_profile(DISPLAY_P3)


def palette(codes):
    return plain(codes).quantize(4)


def see_through(codes):
    picture = plain(codes, "RGBA")
    picture.putalpha(255)
    return picture


P3_FILES = {
    "jpeg": lambda c: encoded("JPEG", plain(c), icc_profile=P3_ICC, quality=95, subsampling=0),
    "png": lambda c: encoded("PNG", plain(c), icc_profile=P3_ICC),
    "png with alpha": lambda c: encoded("PNG", see_through(c), icc_profile=P3_ICC),
    "png with a palette": lambda c: encoded("PNG", palette(c), icc_profile=P3_ICC),
    "webp": lambda c: encoded("WEBP", plain(c), icc_profile=P3_ICC, lossless=True),
    "webp with alpha": lambda c: encoded("WEBP", see_through(c), icc_profile=P3_ICC, lossless=True),
    "heic by profile": lambda c: encoded("HEIF", plain(c), icc_profile=P3_ICC, quality=95),
    "heic by numbers": lambda c: encoded(
        "HEIF", plain(c), quality=95, color_primaries=12, transfer_characteristics=13,
        matrix_coefficients=6, full_range_flag=1,
    ),
    "png by numbers": lambda c: with_chunk(
        encoded("PNG", plain(c)), b"cICP", bytes((12, 13, 0, 1))
    ),
}  # fmt: skip


@pytest.mark.parametrize("make", P3_FILES.values(), ids=P3_FILES)
@pytest.mark.parametrize("codes", PATCHES, ids=["green", "violet", "brown"])
def test_display_p3_stays_wide_in_every_format(make, codes):
    colour, space = kept(make(codes))
    assert space is DISPLAY_P3
    assert same_colour(colour, stated(codes, DISPLAY_P3))


def test_colour_held_to_srgb_would_be_another():
    truth = stated(PATCHES[0], DISPLAY_P3)
    assert not same_colour(truth, np.clip(truth, 0, 1), most=2)


def png_gamma(codes, gamma, chromaticities=()):
    content = encoded("PNG", plain(codes))
    if chromaticities:
        numbers = struct.pack(">8I", *(round(100_000 * x) for x in chromaticities))
        content = with_chunk(content, b"cHRM", numbers)
    return with_chunk(content, b"gAMA", struct.pack(">I", round(100_000 * gamma)))


P3_XY = (0.3127, 0.3290, 0.680, 0.320, 0.265, 0.690, 0.150, 0.060)
BT709 = ColourSpace("BT.709", np.eye(3), space_by_number(1, 1).curve)
OTHER_FILES = {
    "another profile": (
        lambda c: encoded("PNG", plain(c), icc_profile=icc_profile(WIDEST)), WIDEST
    ),
    "png of linear light": (
        lambda c: png_gamma(c, 1.0), ColourSpace("linear", np.eye(3), power(1.0))
    ),
    "png by primaries": (lambda c: png_gamma(c, 1 / 2.2, P3_XY), DISPLAY_P3),
    "heic of bt.2020": (
        lambda c: encoded("HEIF", plain(c), quality=95, color_primaries=9,
                          transfer_characteristics=1, matrix_coefficients=6, full_range_flag=1),
        space_by_number(9, 1),
    ),
    "heic of bt.709": (
        lambda c: encoded("HEIF", plain(c), quality=95, color_primaries=1,
                          transfer_characteristics=1, matrix_coefficients=6, full_range_flag=1),
        BT709,
    ),
    "jpeg that its camera calls adobe rgb": (lambda c: adobe_jpeg(c), ADOBE_RGB),
}  # fmt: skip


def adobe_jpeg(codes):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 0xFFFF
    exif.get_ifd(0x8769)[0xA005] = {1: "R03"}
    return encoded("JPEG", plain(codes), exif=exif, quality=95, subsampling=0)


@pytest.mark.parametrize(("make", "space"), OTHER_FILES.values(), ids=OTHER_FILES)
def test_other_spaces_are_understood(make, space):
    colour, _ = kept(make(SRGB_BROWN))
    assert same_colour(colour, stated(SRGB_BROWN, space))
    assert not same_colour(colour, stated(SRGB_BROWN, SRGB))


SRGB_ICC = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
SRGB_FILES = {
    "nothing said": {},
    "its own profile": {"icc_profile": SRGB_ICC},
    "our profile": {"icc_profile": icc_profile(SRGB)},
    "a profile cut short": {"icc_profile": P3_ICC[:200]},
    "no profile at all": {"icc_profile": b"nothing of the kind"},
}


@pytest.mark.parametrize("said", SRGB_FILES.values(), ids=SRGB_FILES)
def test_srgb_stays_as_it_is_without_a_profile(said):
    clean = clean_photo(sent(encoded("PNG", plain(SRGB_BROWN), **said)), bytes_max=10**7)
    codes, space = codes_of_file(io.BytesIO(clean.image))
    assert space is SRGB and np.abs(codes[20, 20].astype(int) - SRGB_BROWN).max() <= 1
    assert b"ICC_PROFILE" not in clean.image


@pytest.mark.parametrize(
    ("name", "data"),
    [
        (b"cICP", b"\x0c"),
        (b"cICP", bytes((200, 200, 0, 1))),
        (b"cHRM", bytes(32)),
        (b"gAMA", bytes(4)),
    ],
)
def test_statement_that_makes_no_sense_costs_nothing(name, data):
    colour, space = kept(with_chunk(encoded("PNG", plain(SRGB_BROWN)), name, data))
    assert space is SRGB and same_colour(colour, stated(SRGB_BROWN, SRGB))


def test_colours_beyond_p3_lie_on_its_edge():
    content = encoded("PNG", plain((20, 250, 20)), icc_profile=icc_profile(WIDEST))
    clean = clean_photo(sent(content), bytes_max=10**7)
    codes, space = codes_of_file(io.BytesIO(clean.image))
    assert space is DISPLAY_P3 and codes[20, 20].min() <= 1


def test_grey_of_sixteen_bits_is_scaled_not_cut_off():
    levels = np.linspace(0, 65_535, 64).astype(np.uint16)
    content = encoded("PNG", Image.fromarray(np.broadcast_to(levels, (48, 64)).copy()))
    clean = clean_photo(sent(content), bytes_max=10**7)
    codes, _ = codes_of_file(io.BytesIO(clean.image))
    assert codes[20, 32, 0] == pytest.approx(130, abs=4)


def test_grey_profile_of_a_grey_picture_is_taken():
    clean = clean_photo(
        sent(encoded("PNG", Image.new("L", (60, 40), 120), icc_profile=P3_ICC)), bytes_max=10**7
    )
    codes, space = codes_of_file(io.BytesIO(clean.image))
    # A profile of colours explains no grey: the picture stays as it is.
    assert space is SRGB and codes[20, 20, 0] == pytest.approx(120, abs=1)


def test_transparent_part_of_a_wide_picture_is_white():
    picture = plain(PATCHES[0], "RGBA")
    picture.putalpha(0)
    colour, _ = kept(encoded("PNG", picture, icc_profile=P3_ICC))
    assert colour == pytest.approx(np.ones(3), abs=0.01)


def test_our_profile_means_to_others_what_it_means_to_us():
    cube = np.stack(np.meshgrid(*[np.arange(0, 256, 51)] * 3), -1).reshape(1, -1, 3)
    picture = Image.fromarray(cube.astype(np.uint8))
    profile = ImageCms.ImageCmsProfile(io.BytesIO(P3_ICC))
    theirs = ImageCms.profileToProfile(picture, profile, ImageCms.createProfile("sRGB"),
                                       renderingIntent=1)  # fmt: skip
    ours = np.clip(stated(cube.astype(np.uint8), DISPLAY_P3), 0, 1)
    their_light = SRGB.linear_of_code[np.asarray(theirs)]
    assert np.abs(their_light - ours).max() < 0.012
