"""What a browser and its push service do with a message: it is opened by RFC 8291, not by our code.

Written from the other side: the browser's private key, where the app has its public one.
"""

import base64
import json
import secrets

from cryptography.hazmat.primitives import hashes, hmac, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM


def text_of(raw):
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def raw_of(text):
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def point_of(key):
    return key.public_bytes(
        serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint
    )


def sha(key, data):
    mac = hmac.HMAC(key, hashes.SHA256())
    mac.update(data)
    return mac.finalize()


class Browser:
    """A browser's half of a subscription."""

    def __init__(self):
        self.private = ec.generate_private_key(ec.SECP256R1())
        self.auth = secrets.token_bytes(16)
        self.key, self.secret = text_of(point_of(self.private.public_key())), text_of(self.auth)

    def opened(self, body):
        """Return the message in a body (RFC 8188, section 2; RFC 8291, section 3.4)."""
        salt, length = body[:16], body[20]
        sender, record = body[21 : 21 + length], body[21 + length :]
        their = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), sender)
        shared = self.private.exchange(ec.ECDH(), their)
        info = b"WebPush: info\x00" + point_of(self.private.public_key()) + sender
        seed = sha(sha(self.auth, shared), info + b"\x01")
        mixed = sha(salt, seed)
        key = sha(mixed, b"Content-Encoding: aes128gcm\x00\x01")[:16]
        nonce = sha(mixed, b"Content-Encoding: nonce\x00\x01")[:12]
        plain = AESGCM(key).decrypt(nonce, record, None)
        assert plain[-1] == 2  # the last record
        return plain[:-1]


def claims_of(authorization):
    """Return what a sender signed and the key it names; fails where the signature is wrong."""
    scheme, _, rest = authorization.partition(" ")
    assert scheme == "vapid"
    parts = dict(part.strip().split("=", 1) for part in rest.split(","))
    head, claims, signature = parts["t"].split(".")
    assert json.loads(raw_of(head)) == {"typ": "JWT", "alg": "ES256"}
    r, s = (int.from_bytes(raw_of(signature)[i : i + 32], "big") for i in (0, 32))
    public = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), raw_of(parts["k"]))
    public.verify(
        encode_dss_signature(r, s), f"{head}.{claims}".encode(), ec.ECDSA(hashes.SHA256())
    )
    return json.loads(raw_of(claims)), parts["k"]
