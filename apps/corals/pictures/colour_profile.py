"""What the colours of a sent picture mean, and the picture in a space that is kept: sRGB or P3.

A file states its space by an ICC profile, by numbers (HEIC's nclx, PNG's cICP), by gamma and
primaries (PNG), or in its Exif. What states nothing, or can't be read, counts as sRGB: that costs
a shade of colour, not the photo.
"""

import io
import struct
from collections.abc import Iterator

import numpy as np
from PIL import ExifTags, Image, ImageCms

from apps.corals.pictures.icc_profile import icc_profile
from apps.photics.colour.cielab import linear_of_srgb
from apps.photics.colour.colour_space import (
    ADOBE_RGB,
    DISPLAY_P3,
    PRIMARIES,
    SRGB,
    WIDEST,
    ColourSpace,
    power,
    recoded,
    space_by_number,
    space_of,
)

# What a picture's mode must be for a profile's kind of colours.
MODE_OF_PROFILE = {"RGB ": "RGB", "GRAY": "L", "CMYK": "CMYK"}
# A profile that moves no code by more than this is the space itself [codes]: rounding.
SAME_SPACE_CODES = 2
# The chunks of a PNG before its pixels; a sound file has a dozen.
PNG_CHUNKS_MAX = 100
PNG_HEAD_BYTES = 8
# A gamma of 1/2.2 is how programs write sRGB's curve in a PNG (W3C PNG, 11.3.2.5).
SRGB_GAMMA, SAME_GAMMA = 1 / 2.2, 0.002
GAMMA_MIN, GAMMA_MAX = 0.2, 2.0
# Exif's colour space of its own kind, which with this mark is Adobe RGB (DCF 2.0).
ADOBE_MARK = "R03"
# Rows converted at a time, so that a large picture takes little memory on top of itself.
STRIP_ROWS = 64


def in_kept_space(picture: Image.Image) -> tuple[Image.Image, ColourSpace]:
    """Return the picture as mode RGB in a kept ColourSpace, sRGB or Display P3.

    What is transparent lies on white. Colours that Display P3 has not lie on its edge, where
    measuring sees them.
    """
    alpha = alpha_of(picture)
    picture.info.pop("transparency", None)
    opaque = picture.convert("RGB") if picture.mode in ("RGBA", "LA", "PA", "P") else picture
    colours, space = converted(opaque)
    if alpha is not None:
        ground = Image.new("RGB", colours.size, "white")
        ground.paste(colours, mask=alpha)
        colours = ground
    return colours, space


def alpha_of(picture: Image.Image) -> Image.Image | None:
    """Return what of a picture is opaque, or None where all is."""
    if "A" in picture.getbands():
        return picture.getchannel("A")
    return picture.convert("RGBA").getchannel("A") if "transparency" in picture.info else None


def converted(picture: Image.Image) -> tuple[Image.Image, ColourSpace]:
    """Return a picture without alpha as mode RGB in sRGB or Display P3, and which."""
    stated = picture.info.get("stated_space", SRGB)
    if isinstance(stated, bytes):
        try:
            return by_profile(picture, stated)
        except (ImageCms.PyCMSError, OSError, TypeError, ValueError):
            return picture.convert("RGB"), SRGB
    rgb = picture.convert("RGB")
    if stated is SRGB or stated is DISPLAY_P3:
        return rgb, stated
    wide = not np.allclose(stated.to_srgb, SRGB.to_srgb, atol=1e-6)
    target = DISPLAY_P3 if wide else SRGB
    return in_strips(rgb, stated, target), target


def by_profile(picture: Image.Image, content: bytes) -> tuple[Image.Image, ColourSpace]:
    """Return a picture whose colours an ICC profile explains, in sRGB or Display P3, and which."""
    profile = opened(content)
    mode = MODE_OF_PROFILE.get(profile.profile.xcolor_space)
    if mode != picture.mode:
        # A profile of other colours than the picture has explains nothing.
        return picture.convert("RGB"), SRGB
    if mode == "RGB":
        for space in (SRGB, DISPLAY_P3):
            if is_space(profile, space):
                return picture, space
    wide = transformed(picture, profile, WIDEST)
    return in_strips(wide, WIDEST, DISPLAY_P3), DISPLAY_P3


def opened(content: bytes) -> ImageCms.ImageCmsProfile:
    return ImageCms.ImageCmsProfile(io.BytesIO(content))


def transformed(
    picture: Image.Image, profile: ImageCms.ImageCmsProfile, space: ColourSpace
) -> Image.Image:
    """Return a picture of a profile's colours as codes of a ColourSpace."""
    result = ImageCms.profileToProfile(
        picture,
        profile,
        opened(icc_profile(space)),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
    )
    assert result is not None
    return result


def is_space(profile: ImageCms.ImageCmsProfile, space: ColourSpace) -> bool:
    """Tell whether a profile of RGB is a ColourSpace that we know: it moves no code."""
    levels = np.arange(0, 256, 51, dtype=np.uint8)
    cube = np.stack(np.meshgrid(levels, levels, levels), axis=-1).reshape(1, -1, 3)
    moved = np.asarray(transformed(Image.fromarray(cube), profile, space)).astype(int)
    return bool(np.abs(moved - cube).max() <= SAME_SPACE_CODES)


def in_strips(picture: Image.Image, source: ColourSpace, target: ColourSpace) -> Image.Image:
    """Return a picture of mode RGB recoded from one ColourSpace to another."""
    result = Image.new("RGB", picture.size)
    for top in range(0, picture.height, STRIP_ROWS):
        strip = picture.crop((0, top, picture.width, min(top + STRIP_ROWS, picture.height)))
        codes = recoded(np.asarray(strip), source=source, target=target)
        result.paste(Image.fromarray(codes), (0, top))
    return result


def stated_space(picture: Image.Image, file) -> ColourSpace | bytes:
    """Return the space that an opened picture's file states: a ColourSpace or an ICC profile."""
    info = picture.info
    numbers = png_numbers(file) if picture.format == "PNG" else None
    if numbers is not None:
        return space_by_number(*numbers)
    if info.get("icc_profile"):
        return bytes(info["icc_profile"])
    if nclx := info.get("nclx_profile"):
        return space_by_number(nclx["color_primaries"], nclx["transfer_characteristics"])
    if "srgb" not in info and ("gamma" in info or "chromaticity" in info):
        return space_of_png(info)
    return exif_space(picture)


def png_numbers(file) -> tuple[int, int] | None:
    """Return primaries and transfer of a PNG's cICP chunk, or None; the file's place is kept."""
    place = file.tell()
    try:
        for name, size in png_chunks(file):
            if name == b"cICP" and size == 4:
                primaries, transfer, *_ = file.read(4)
                return primaries, transfer
        return None
    finally:
        file.seek(place)


def png_chunks(file) -> Iterator[tuple[bytes, int]]:
    """Yield name and size of the chunks before a PNG's pixels, the file at their content."""
    at = PNG_HEAD_BYTES
    for _ in range(PNG_CHUNKS_MAX):
        file.seek(at)
        head = file.read(8)
        if len(head) < 8:
            return
        size, name = struct.unpack(">I4s", head)
        if name in (b"IDAT", b"IEND"):
            return
        yield name, size
        at += 12 + size


def space_of_png(info) -> ColourSpace:
    """Return the ColourSpace of a PNG's gAMA and cHRM; what makes no sense counts as sRGB's."""
    gamma = info.get("gamma", SRGB_GAMMA)
    plain = abs(gamma - SRGB_GAMMA) < SAME_GAMMA or not GAMMA_MIN <= gamma <= GAMMA_MAX
    curve = linear_of_srgb if plain else power(1.0 / gamma)
    white, red, green, blue = PRIMARIES[1][3], *PRIMARIES[1][:3]
    if len(xy := info.get("chromaticity", ())) == 8:
        white, red, green, blue = (tuple(xy[i : i + 2]) for i in range(0, 8, 2))
    try:
        space = space_of("PNG", red, green, blue, white, curve=curve)
    except ValueError:
        space = ColourSpace("PNG", SRGB.to_srgb, curve)
    same = plain and np.allclose(space.to_srgb, SRGB.to_srgb, atol=2e-3)
    return SRGB if same else space


def exif_space(picture: Image.Image) -> ColourSpace:
    """Return Adobe RGB where a camera says so in its Exif, else sRGB."""
    try:
        mark = picture.getexif().get_ifd(ExifTags.IFD.Interop).get(1, "")
    except Exception:
        # Exif is broken in as many ways as there are cameras.
        return SRGB
    mark = mark.decode("ascii", "replace") if isinstance(mark, bytes) else str(mark)
    return ADOBE_RGB if mark.strip("\0 ") == ADOBE_MARK else SRGB
