"""Making a sent picture safe to keep: checked, turned upright, stripped bare and re-encoded.

What was sent is read once and never stored, so nothing rides along: no place, no camera, no
second file hidden behind the picture.
"""

import io
import warnings
from dataclasses import dataclass

import numpy as np
import pillow_heif
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from apps.corals.decoder_lock import decoder

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


def clean_photo(file, *, bytes_max):
    """Return the CleanPhoto of an uploaded file.

    Raises UnusablePhoto with a sentence, and DecoderBusy when the machine has no time for it.
    """
    if file.size > bytes_max:
        raise UnusablePhoto(
            f"This file has {file.size / 1e6:.0f} MB; a photo may have {bytes_max / 1e6:.0f}."
        )
    with decoder():
        picture = bare(upright(reduced(open_picture(file))))
    image = encode(picture)
    width_px, height_px = picture.size
    picture.thumbnail((THUMBNAIL_SIDE, THUMBNAIL_SIDE), Image.Resampling.LANCZOS)
    return CleanPhoto(image, encode(picture), width_px, height_px)


def open_picture(file):
    """Return the decoded picture, its size checked before a pixel is decoded."""
    file.seek(0)
    try:
        with warnings.catch_warnings():
            # Size is judged below, by our own bound and in our own words.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(file, formats=FORMATS)
        refuse_too_many_pixels(picture)
        # A large JPEG is decoded at a half or a quarter straight away: quicker, and less memory.
        picture.draft("RGB", (IMAGE_SIDE, IMAGE_SIDE))
        picture.load()
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
    """Return the picture no larger than is kept, first of all: every copy after it is small."""
    if picture.mode not in ("RGB", "RGBA", "L"):
        see_through = "A" in picture.getbands() or "transparency" in picture.info
        full, picture = picture, picture.convert("RGBA" if see_through else "RGB")
        picture.info = full.info
    picture.thumbnail((IMAGE_SIDE, IMAGE_SIDE), Image.Resampling.LANCZOS)
    return picture


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
    """Return the picture as plain sRGB pixels on white, with nothing attached."""
    profile = picture.info.get("icc_profile")
    if profile and picture.mode == "RGB":
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            picture = ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB"))
        except (ImageCms.PyCMSError, OSError, TypeError, ValueError):
            # A profile that can't be read costs a shade of colour, not the photo.
            pass
    if "A" in picture.getbands() or "transparency" in picture.info:
        layered = picture.convert("RGBA")
        picture = Image.new("RGB", picture.size, "white")
        picture.paste(layered, mask=layered.getchannel("A"))
    plain = Image.new("RGB", picture.size)
    plain.paste(picture.convert("RGB"))
    return plain


def encode(picture):
    """Return JPEG bytes of a picture."""
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True, progressive=True)
    return out.getvalue()


def codes_of(photo):
    """Return the sRGB codes (h, w, 3) of a kept Photo, uint8."""
    with photo.image.open("rb") as file, Image.open(file, formats=["JPEG"]) as picture:
        return np.asarray(picture.convert("RGB"))


def thumbnail_codes(photo):
    """Return a kept Photo's thumbnail as grey codes (h, w): enough to lay it on another."""
    with photo.thumbnail.open("rb") as file, Image.open(file, formats=["JPEG"]) as picture:
        return np.asarray(picture.convert("L"))
