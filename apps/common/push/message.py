"""A message that only one browser can read (RFC 8291, by aes128gcm of RFC 8188).

The push service between sees its length and nothing else.
"""

import secrets
import struct

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from apps.common.push.keys import POINT, RAW

# One record holds all; a push service takes no more than 4096 bytes in all.
RECORD_BYTES = 4096
SALT_BYTES, AUTH_BYTES, POINT_BYTES, TAG_BYTES = 16, 16, 65, 16
# Head (salt, size of a record, length of the key and the key), the record's end mark and its tag.
MESSAGE_BYTES_MAX = RECORD_BYTES - (SALT_BYTES + 4 + 1 + POINT_BYTES) - 1 - TAG_BYTES
LAST_RECORD = b"\x02"


def browser_key(point: bytes) -> ec.EllipticCurvePublicKey:
    """Return a browser's key; ValueError for bytes that are no point of the curve."""
    return ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)


def locked(
    message: bytes,
    *,
    point: bytes,
    auth: bytes,
    salt: bytes | None = None,
    own_key: ec.EllipticCurvePrivateKey | None = None,
) -> bytes:
    """Return a message as the browser with that key `point` and secret `auth` can open it.

    `salt` and `own_key` are new for each message, but where a test gives those of a published one.
    """
    if len(message) > MESSAGE_BYTES_MAX:
        raise ValueError(f"A message has at most {MESSAGE_BYTES_MAX} bytes, not {len(message)}.")
    salt = salt or secrets.token_bytes(SALT_BYTES)
    own_key = own_key or ec.generate_private_key(ec.SECP256R1())
    own_point = own_key.public_key().public_bytes(RAW, POINT)
    shared = own_key.exchange(ec.ECDH(), browser_key(point))
    seed = derived(shared, auth, b"WebPush: info\x00" + point + own_point, 32)
    content_key = derived(seed, salt, b"Content-Encoding: aes128gcm\x00", 16)
    nonce = derived(seed, salt, b"Content-Encoding: nonce\x00", 12)
    record = AESGCM(content_key).encrypt(nonce, message + LAST_RECORD, None)
    return salt + struct.pack("!IB", RECORD_BYTES, len(own_point)) + own_point + record


def derived(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    return HKDF(hashes.SHA256(), length, salt, info).derive(secret)
