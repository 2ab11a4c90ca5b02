"""Secret addresses: a token is known once, when made; only its fingerprint is kept."""

import hashlib
import secrets

# 32 random bytes: not to be guessed, short enough for a message.
TOKEN_BYTES = 32


def new_token() -> str:
    """Return a random text that fits into an address."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def hash_token(token: str) -> str:
    """Return what is stored of a token. A long random token needs no salt."""
    return hashlib.sha256(token.encode()).hexdigest()
