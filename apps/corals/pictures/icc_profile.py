"""Writing an ICC profile of a colour space: three primaries and sRGB's curve, 500 bytes.

Kept photos with colours beyond sRGB carry one, made here, so that screens show them right.
Layout by ICC.1:2010 (profile version 4.3).
"""

import struct
from functools import cache

import numpy as np

from apps.photics.colour.cielab import D50, D65, XYZ_OF_RGB
from apps.photics.colour.colour_space import BRADFORD, ColourSpace

# sRGB's curve as ICC's parametric type 3: Y = (aX + b)^g from d on, cX below.
SRGB_CURVE = (2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045)
HEADER_BYTES = 128


@cache
def icc_profile(space: ColourSpace) -> bytes:
    """Return the ICC profile of a ColourSpace that has sRGB's curve."""
    gains = (BRADFORD @ D50) / (BRADFORD @ D65)
    to_d50 = np.linalg.inv(BRADFORD) @ (gains[:, None] * BRADFORD)
    colourants = to_d50 @ XYZ_OF_RGB @ space.to_srgb
    curve = b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + fixed(SRGB_CURVE)
    tags = {
        b"desc": text(space.name),
        b"cprt": text("No rights reserved."),
        b"wtpt": b"XYZ \0\0\0\0" + fixed(D50),
        b"chad": b"sf32\0\0\0\0" + fixed(to_d50.ravel()),
        **{
            name: b"XYZ \0\0\0\0" + fixed(colourants[:, i])
            for i, name in enumerate((b"rXYZ", b"gXYZ", b"bXYZ"))
        },
        **dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve),
    }
    return with_header(tags)


def with_header(tags: dict[bytes, bytes]) -> bytes:
    """Return a profile of tags: header, table, then each content once, on fours."""
    places: dict[bytes, int] = {}
    body, start = b"", HEADER_BYTES + 4 + 12 * len(tags)
    for content in tags.values():
        if content not in places:
            places[content] = start + len(body)
            body += content + bytes(-len(content) % 4)
    table = struct.pack(">I", len(tags)) + b"".join(
        name + struct.pack(">II", places[content], len(content)) for name, content in tags.items()
    )
    head = struct.pack(">I", start + len(body)) + bytes(4) + b"\x04\x30\0\0" + b"mntrRGB XYZ "
    # A day that never changes, so that the same space gives the same bytes.
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    head += fixed(D50) + bytes(HEADER_BYTES - len(head) - 12)
    return head + table + body


def fixed(numbers) -> bytes:
    """Return numbers as ICC's s15Fixed16."""
    return b"".join(struct.pack(">i", round(float(n) * 65536)) for n in numbers)


def text(words: str) -> bytes:
    """Return words as a multi-localized text in English."""
    coded = words.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(coded), 28) + coded
