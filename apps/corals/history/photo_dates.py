"""On which day a photo was taken: as the camera wrote it, else as the file's name says."""

import datetime as dt
import re
import warnings

from django.core.files.uploadedfile import UploadedFile
from PIL import ExifTags, Image

from apps.corals.photo_cleaning import FORMATS
from apps.photics.limits import ENTRY_YEAR_MIN

# What a camera writes, the moment of the shot first.
TAGS = (ExifTags.Base.DateTimeOriginal, ExifTags.Base.DateTimeDigitized, ExifTags.Base.DateTime)
_EXIF = re.compile(r"^\s*(\d{4})[:-](\d{2})[:-](\d{2})")
# IMG_20260301_143000.jpg, 2026-03-01 14.30.jpg
_NAME = re.compile(r"(?<!\d)(20\d{2})[-_.]?(\d{2})[-_.]?(\d{2})(?!\d)")


def taken_on(file: UploadedFile, *, today: dt.date) -> dt.date | None:
    """Return the day a photo was taken by the camera's clock, None where nothing tells it.

    A day that cannot be, as of a clock that was never set, counts as none.
    """
    texts = [(_EXIF, text) for text in exif_dates(file)]
    texts.append((_NAME, str(file.name or "")))
    days = (_day(pattern.search(text)) for pattern, text in texts)
    return next((d for d in days if d and d.year >= ENTRY_YEAR_MIN and d <= today), None)


def exif_dates(file: UploadedFile) -> list[str]:
    """Return the dates in a picture's Exif as they stand, none where it has none or is broken."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            file.seek(0)
            exif = Image.open(file, formats=FORMATS).getexif()
            inner = exif.get_ifd(ExifTags.IFD.Exif)
            values = [inner.get(tag) or exif.get(tag) for tag in TAGS]
    except Exception:
        # Exif is broken in as many ways as there are cameras, and a date can be typed.
        return []
    finally:
        file.seek(0)
    return [str(value) for value in values if value]


def _day(match: re.Match[str] | None) -> dt.date | None:
    try:
        return dt.date(*map(int, match.groups())) if match else None
    except ValueError:
        return None
