"""Small pictures made for tests, sound and hostile."""

import io

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

ORIENTATION, GPS, MAKE = 0x0112, 0x8825, 0x010F
TURNED_RIGHT = 6


def picture(width=60, height=40):
    """A picture with a red left half and a blue right half."""
    made = Image.new("RGB", (width, height), "blue")
    made.paste("red", (0, 0, width // 2, height))
    return made


def encoded(kind="JPEG", made=None, **options):
    out = io.BytesIO()
    (made or picture()).save(out, kind, **options)
    return out.getvalue()


def sent(content, name="photo.jpg"):
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def with_place_and_turn():
    """A JPEG that carries a place, a camera and a turn."""
    exif = Image.Exif()
    exif[ORIENTATION] = TURNED_RIGHT
    exif[MAKE] = "Some camera"
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (53.0, 30.0, 0.0)
    return encoded(exif=exif)


def huge_png():
    """A small file that would decode to 81 million pixels."""
    return encoded("PNG", Image.new("1", (9000, 9000)))


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
# A picture's first bytes, then a page.
POLYGLOT = encoded("GIF", made=Image.new("P", (2, 2))) + b"<script>alert(1)</script>"
HOSTILE = {
    "cut short": encoded()[:200],
    "only a head": b"\xff\xd8\xff\xe0",
    "svg": SVG,
    "a page called jpg": b"<html><script>alert(1)</script></html>",
    "gif polyglot": POLYGLOT,
    "too many pixels": huge_png(),
    "zeros": bytes(4000),
    "text": b"not a photo",
    "zip": b"PK\x03\x04" + bytes(100),
    "bmp": encoded("BMP"),
    "tiff": encoded("TIFF"),
    "empty png": encoded("PNG")[:30],
}
