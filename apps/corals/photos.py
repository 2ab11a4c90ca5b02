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

pillow_heif.register_heif_opener()

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
FORMAT_WORDS = "JPEG, PNG, WebP or HEIC"
# A phone takes 12 to 50 million pixels; decoded, each takes three bytes.
PIXELS_MAX = 50_000_000
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
    """Return the CleanPhoto of an uploaded file; raises UnusablePhoto with a sentence."""
    if file.size > bytes_max:
        raise UnusablePhoto(
            f"This file has {file.size / 1e6:.0f} MB; a photo may have {bytes_max / 1e6:.0f}."
        )
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
        refuse_too_many_pixels(picture.size)
        # A large JPEG is decoded at a half or a quarter straight away: quicker, and less memory.
        picture.draft("RGB", (IMAGE_SIDE, IMAGE_SIDE))
        picture.load()
    except UnusablePhoto:
        raise
    except Image.DecompressionBombError:
        raise UnusablePhoto(too_many_pixels()) from None
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


def refuse_too_many_pixels(size):
    if size[0] * size[1] > PIXELS_MAX:
        raise UnusablePhoto(too_many_pixels())


def too_many_pixels():
    return (
        f"This picture has more than {PIXELS_MAX // 1_000_000} million pixels. Send a smaller one."
    )


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
