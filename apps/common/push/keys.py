"""The key by which a browser's push service knows this site (VAPID, RFC 8292)."""

import time
from urllib.parse import urlsplit

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature

from apps.common.push.base64url import decoded, encoded, json_part

KEY_BYTES = 32
# How long a signed word counts; a push service takes a day at most [s].
SIGNED_FOR_S = 12 * 3600
RAW, POINT = serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint


def make_key() -> str:
    """Return a new key as the settings take it."""
    number = ec.generate_private_key(ec.SECP256R1()).private_numbers().private_value
    return encoded(number.to_bytes(KEY_BYTES, "big"))


def read_key(text: str) -> ec.EllipticCurvePrivateKey:
    """Return the key of a text; ValueError for what is none."""
    raw = decoded(text)
    if len(raw) != KEY_BYTES:
        raise ValueError(f"A key has {KEY_BYTES} bytes, this {len(raw)}.")
    return ec.derive_private_key(int.from_bytes(raw, "big"), ec.SECP256R1())


def public_text(key: ec.EllipticCurvePrivateKey) -> str:
    """Return the public half, as browsers take it."""
    return encoded(key.public_key().public_bytes(RAW, POINT))


def signed_word(
    endpoint: str, *, key: ec.EllipticCurvePrivateKey, contact: str, now: float | None = None
) -> str:
    """Return the Authorization of a message to an endpoint; `contact` is "" or an address.

    `now` is the clock's [s since 1970], its own where none is given.
    """
    place = urlsplit(endpoint)
    claims: dict[str, object] = {
        "aud": f"{place.scheme}://{place.netloc}",
        "exp": int(time.time() if now is None else now) + SIGNED_FOR_S,
    }
    if contact:
        claims["sub"] = contact
    word = f"{json_part({'typ': 'JWT', 'alg': 'ES256'})}.{json_part(claims)}"
    parts = decode_dss_signature(key.sign(word.encode(), ec.ECDSA(hashes.SHA256())))
    signature = b"".join(part.to_bytes(KEY_BYTES, "big") for part in parts)
    return f"vapid t={word}.{encoded(signature)}, k={public_text(key)}"
