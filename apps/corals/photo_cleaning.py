"""Making a sent picture safe to keep: checked, turned upright, stripped bare and re-encoded.

What was sent is read once and never stored, so nothing rides along: no place, no camera (a keyed
hash says only whether two photos are of one), no second file hidden behind the picture. Colours
that sRGB can't hold are kept as Display P3.
"""

import io
import warnings
from dataclasses import dataclass

import numpy as np
import pillow_heif
from PIL import Image, ImageOps, UnidentifiedImageError

from apps.corals.pictures.camera_mark import camera_mark
from apps.corals.pictures.colour_profile import in_kept_space, stated_space
from apps.corals.pictures.decoder_lock import decoder
from apps.corals.pictures.icc_profile import icc_profile
from apps.photics.colour.colour_space import DISPLAY_P3, SRGB, Codes, ColourSpace

pillow_heif.register_heif_opener()

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
FORMAT_WORDS = "JPEG, PNG, WebP or HEIC"
# What a worker's memory bears, by what each decoder takes [pixels]: at these sizes it adds 235 MB
# at most (`python -m tests.benchmarks.bench_photos`). A plain JPEG is decoded at a part of its
# size, a progressive one is held whole first, and a WebP takes 17 bytes a pixel.
PIXELS_MAX = {"JPEG": 50_000_000, "PNG": 25_000_000, "HEIF": 25_000_000, "WEBP": 12_500_000}
PROGRESSIVE_PIXELS_MAX = 30_000_000
SIZES_WORDS = "At most 50 million pixels as JPEG, 25 as PNG or HEIC, 12.5 as WebP."
# Larger than any phone screen, small enough to store hundreds.
IMAGE_SIDE = 2000
THUMBNAIL_SIDE = 400
JPEG_QUALITY = 85


class UnusablePhoto(ValueError):
    """The file can't be kept; the message says why, for the keeper."""


@dataclass(frozen=True)
class CleanPhoto:
    """Two JPEG files made here, as bytes."""

    image: bytes
    thumbnail: bytes
    width_px: int
    height_px: int
    # See `camera_mark`; "" where the file states no camera.
    camera_mark: str = ""


def clean_photo(file, *, bytes_max):
    """Return the CleanPhoto of an uploaded file.

    Raises UnusablePhoto with a sentence, and DecoderBusy when the machine has no time for it.
    """
    if file.size > bytes_max:
        raise UnusablePhoto(
            f"This file has {file.size / 1e6:.0f} MB; a photo may have {bytes_max / 1e6:.0f}."
        )
    with decoder():
        picture = open_picture(file)
        mark = camera_mark(picture)
        picture = reduced(picture)
        picture, space = bare(upright(picture))
    image = encode(picture, space)
    width_px, height_px = picture.size
    picture.thumbnail((THUMBNAIL_SIDE, THUMBNAIL_SIDE), Image.Resampling.LANCZOS)
    return CleanPhoto(image, encode(picture, space), width_px, height_px, mark)


def open_picture(file):
    """Return the decoded picture, its size checked before a pixel is decoded."""
    file.seek(0)
    try:
        with warnings.catch_warnings():
            # Size is judged below, by our own bound and in our own words.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(file, formats=FORMATS)
        refuse_too_many_pixels(picture)
        space = stated_space(picture, file)
        # A large JPEG is decoded at a half or a quarter straight away: quicker, and less memory.
        picture.draft("RGB", (IMAGE_SIDE, IMAGE_SIDE))
        picture.load()
        picture.info["stated_space"] = space
    except UnusablePhoto:
        raise
    except Image.DecompressionBombError:
        raise UnusablePhoto(too_many_pixels(PIXELS_MAX["JPEG"])) from None
    except UnidentifiedImageError:
        raise UnusablePhoto(
            f"This is not a photo that can be read here. Send a {FORMAT_WORDS}."
        ) from None
    except Exception:
        # A broken file fails in as many ways as there are decoders; none may reach the keeper.
        raise UnusablePhoto("This photo is damaged or cut short. Try to send it again.") from None
    return picture


def reduced(picture):
    """Return the picture no larger than is kept, first of all: every copy after it is small.

    The codes stay what they were; what they mean is `info["stated_space"]`.
    """
    if picture.mode not in ("RGB", "RGBA", "L", "CMYK"):
        see_through = "A" in picture.getbands() or "transparency" in picture.info
        full, picture = picture, eight_bits(picture).convert("RGBA" if see_through else "RGB")
        picture.info = {"stated_space": full.info["stated_space"], "exif": full.info.get("exif")}
    picture.thumbnail((IMAGE_SIDE, IMAGE_SIDE), Image.Resampling.LANCZOS)
    return picture


def eight_bits(picture):
    """Return the picture with at most eight bits a channel; Pillow would cut off, not scale."""
    if not picture.mode.startswith("I"):
        return picture
    return Image.fromarray((np.asarray(picture) // 256).clip(0, 255).astype(np.uint8))


def refuse_too_many_pixels(picture):
    """Raise UnusablePhoto for more pixels than its format's decoder has memory for."""
    most = PIXELS_MAX[picture.format]
    if picture.info.get("progressive"):
        most = min(most, PROGRESSIVE_PIXELS_MAX)
    if picture.width * picture.height > most:
        raise UnusablePhoto(too_many_pixels(most))


def too_many_pixels(most):
    return f"This picture has more than {most / 1e6:g} million pixels. Send a smaller one."


def upright(picture):
    """Return the picture turned as the camera was held; a broken tag leaves it as it lies."""
    try:
        return ImageOps.exif_transpose(picture)
    except Exception:
        return picture


def bare(picture):
    """Return the picture as plain pixels on white with nothing attached, and their ColourSpace."""
    colours, space = in_kept_space(picture)
    plain = Image.new("RGB", colours.size)
    plain.paste(colours)
    return plain, space


def encode(picture, space):
    """Return JPEG bytes of a picture; one in another space than sRGB carries a profile of ours."""
    out = io.BytesIO()
    profile = None if space is SRGB else icc_profile(space)
    picture.save(
        out, "JPEG", quality=JPEG_QUALITY, optimize=True, progressive=True, icc_profile=profile
    )
    return out.getvalue()


def codes_of(photo) -> tuple[Codes, ColourSpace]:
    """Return the codes (h, w, 3) of a kept Photo, uint8, and their ColourSpace."""
    with photo.image.open("rb") as file:
        return codes_of_file(file)


def codes_of_file(file) -> tuple[Codes, ColourSpace]:
    """Return the codes (h, w, 3) of a JPEG made by `encode`, uint8, and their ColourSpace."""
    with Image.open(file, formats=["JPEG"]) as picture:
        space = DISPLAY_P3 if picture.info.get("icc_profile") else SRGB
        return np.asarray(picture.convert("RGB")), space


def thumbnail_codes(photo):
    """Return a kept Photo's thumbnail as grey codes (h, w): enough to lay it on another."""
    with photo.thumbnail.open("rb") as file, Image.open(file, formats=["JPEG"]) as picture:
        return np.asarray(picture.convert("L"))
