"""Base64 as addresses and tokens take it, without its padding (RFC 4648, section 5)."""

import base64
import binascii
import json


def encoded(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def decoded(text: str) -> bytes:
    """Return what a text stands for; ValueError for any other sign in it."""
    try:
        padded = text.encode("ascii") + b"=" * (-len(text) % 4)
        return base64.b64decode(padded, altchars=b"-_", validate=True)
    except (UnicodeEncodeError, binascii.Error) as problem:
        raise ValueError("This is no base64url.") from problem


def json_part(content: dict[str, object]) -> str:
    """Return a part of a signed token."""
    return encoded(json.dumps(content, separators=(",", ":")).encode())
