"""Small pictures made for tests, sound and hostile."""

import io
import zlib

import pillow_heif
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

pillow_heif.register_heif_opener()

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


def whole_png(chunk):
    """A sound PNG with one more chunk before its pixels."""
    plain = encoded("PNG")
    crc = zlib.crc32(chunk).to_bytes(4, "big")
    head = 8 + 25
    return plain[:head] + (len(chunk) - 4).to_bytes(4, "big") + chunk + crc + plain[head:]


def claims(width, height):
    """A PNG of a few bytes whose head claims any size."""
    head = b"IHDR" + width.to_bytes(4, "big") + height.to_bytes(4, "big") + b"\x08\x02\0\0\0"
    crc = zlib.crc32(head).to_bytes(4, "big")
    return b"\x89PNG\r\n\x1a\n\0\0\0\r" + head + crc + b"\0\0\0\0IEND\xaeB`\x82"


def text_bomb():
    """A PNG whose packed comment would swell to 20 million letters."""
    return whole_png(b"zTXtComment\0\0" + zlib.compress(bytes(20_000_000), 9))


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
SCRIPT = b"<script>alert(1)</script>"
# A picture's first bytes, then a page.
POLYGLOT = encoded("GIF", made=Image.new("P", (2, 2))) + SCRIPT
HOSTILE = {
    "cut short": encoded()[:200],
    "only a head": b"\xff\xd8\xff\xe0",
    "empty": b"",
    "svg": SVG,
    "svg bomb": b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "aaaa">]><svg>&a;</svg>',
    "a page called jpg": b"<html><script>alert(1)</script></html>",
    "gif polyglot": POLYGLOT,
    "too many pixels": huge_png(),
    "claims four thousand million pixels": claims(65_535, 65_535),
    "claims no pixels": claims(0, 0),
    "swelling comment": text_bomb(),
    "zeros": bytes(4000),
    "text": b"not a photo",
    "zip": b"PK\x03\x04" + bytes(100),
    "pdf": b"%PDF-1.7\n1 0 obj\n<<>>\nendobj",
    "bmp": encoded("BMP"),
    "tiff": encoded("TIFF"),
    "icon": encoded("ICO"),
    "postscript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n(id) run\n",
    "empty png": encoded("PNG")[:30],
    "webp cut short": encoded("WEBP")[:60],
    "heic cut short": encoded("HEIF")[:300],
}
# Sound pictures that bring something along: kept, and what they bring is gone.
LADEN = {
    "place and camera": with_place_and_turn(),
    "script behind a jpeg": encoded() + SCRIPT,
    "zip behind a jpeg": encoded() + b"PK\x03\x04" + SCRIPT,
    "script in a jpeg comment": encoded(comment=SCRIPT),
    "script in a png text": whole_png(b"tEXtComment\0" + SCRIPT),
    "private png chunk": whole_png(b"prVt" + SCRIPT),
    "xmp in a webp": encoded("WEBP", xmp=b"<x:xmpmeta>" + SCRIPT + b"</x:xmpmeta>"),
}
BROUGHT = (b"<script", b"Some camera", b"Exif", b"PK\x03\x04", b"prVt", b"xmpmeta", b"GPS")
