"""Devices that signed in before: a signed cookie that names the accounts, read at sign-in alone."""

import secrets

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

COOKIE = "known_device"
SALT = "accounts.known_device"
# Sent to the sign-in pages alone.
PATH = "/accounts/"
DAYS = 400
# A phone that a whole family signs in on.
ACCOUNTS_MAX = 5
# So much of an account's mark tells it apart from others on one device.
MARK_CHARS = 16


def known_device(request: HttpRequest, account: str) -> str | None:
    """Return the device's own id when this account signed in on it before, else None."""
    device, accounts = _read(request)
    return device if account[:MARK_CHARS] in accounts else None


def remember_device(request: HttpRequest, response: HttpResponse, account: str) -> None:
    """Let the device carry that this account signed in on it."""
    device, accounts = _read(request)
    mark = account[:MARK_CHARS]
    newest = [mark, *(known for known in accounts if known != mark)][:ACCOUNTS_MAX]
    response.set_cookie(
        COOKIE,
        signing.dumps([device or secrets.token_hex(8), newest], salt=SALT),
        max_age=DAYS * 24 * 3600,
        path=PATH,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _read(request: HttpRequest) -> tuple[str | None, list[str]]:
    try:
        device, accounts = signing.loads(
            request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=DAYS * 24 * 3600
        )
    except (signing.BadSignature, ValueError, TypeError):
        return None, []
    return device, accounts
