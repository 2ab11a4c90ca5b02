"""Which photos one camera took in one mode, without keeping which camera that is.

What a file says of its camera goes into a hash with the secret key, of which nothing comes back.
Two marks are alike or not; that is all they tell. A new secret key makes all marks new.
"""

from django.utils.crypto import salted_hmac
from PIL import ExifTags, Image

# Its own salt: no other hash of this app can be compared with it.
SALT = "corals.camera_mark"
CAMERA_TAGS = (ExifTags.Base.Make, ExifTags.Base.Model)
SOFTWARE_TAGS = (ExifTags.Base.Software,)
# What changes a phone's look: the lens, portrait or night mode, and picture settings.
MODE_TAGS = (
    ExifTags.Base.LensModel,
    ExifTags.Base.CustomRendered,
    ExifTags.Base.SceneCaptureType,
    ExifTags.Base.Contrast,
    ExifTags.Base.Saturation,
    ExifTags.Base.Sharpness,
)


def camera_mark(picture: Image.Image) -> str:
    """Return the mark of the camera, mode and software a picture states; "" without a camera."""
    try:
        exif = picture.getexif()
        camera = [worded(exif.get(tag)) for tag in CAMERA_TAGS]
        within = exif.get_ifd(ExifTags.IFD.Exif)
        rest = [worded(exif.get(tag)) for tag in SOFTWARE_TAGS]
        rest += [worded(within.get(tag)) for tag in MODE_TAGS]
    except Exception:
        # Exif is broken in as many ways as there are cameras.
        return ""
    if not any(camera):
        return ""
    # Lengths keep "ab" + "c" apart from "a" + "bc".
    text = "".join(f"{len(word)}:{word}" for word in camera + rest)
    return salted_hmac(SALT, text, algorithm="sha256").hexdigest()


def worded(value: object) -> str:
    """Return what a tag holds as plain text, "" where it holds nothing."""
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    return "" if value is None else str(value).strip("\0 ")
