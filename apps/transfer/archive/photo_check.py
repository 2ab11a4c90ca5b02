"""Whether a photo in a zip is one that reeflog made: a bare JPEG, nothing riding along.

Photos come back byte by byte, so they are not made anew; what a person may have put there instead
must not be kept, nor shown to others.
"""

import io

from PIL import Image

from apps.corals.photo_cleaning import IMAGE_SIDE
from apps.transfer.archive.form import Unfit, UnfitZip

# What our JPEG files hold beside the picture: a JFIF head, and the profile of a wide colour space.
JFIF, PROFILE = ("APP0", b"JFIF"), ("APP2", b"ICC_PROFILE\0")
PROFILE_BYTES_MAX = 2_000
START, END = b"\xff\xd8\xff", b"\xff\xd9"


def size_of_photo(content: bytes, name: str) -> tuple[int, int]:
    """Return width and height of a photo [pixels], or raise UnfitZip."""
    odd = UnfitZip(Unfit.PHOTO, f"“{name}” is not a photo as reeflog keeps it.")
    if not (content.startswith(START) and content.endswith(END)):
        raise odd
    try:
        with Image.open(io.BytesIO(content), formats=["JPEG"]) as picture:
            size, parts = picture.size, picture.applist
            profile = picture.info.get("icc_profile") or b""
    except Exception:
        # A broken file fails in as many ways as there are decoders.
        raise odd from None
    is_bare = all(
        marker == where and data.startswith(head)
        for marker, data in parts
        for where, head in [PROFILE if marker == "APP2" else JFIF]
    )
    if not is_bare or max(size) > IMAGE_SIDE or len(profile) > PROFILE_BYTES_MAX:
        raise odd
    return size
