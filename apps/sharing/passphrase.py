"""A word that opens a link besides its address: a right one is remembered for half a day."""

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.core import signing
from django.http import HttpRequest, HttpResponse

from apps.sharing.models import LockedLink

COOKIE = "share_pass"
GOOD_FOR_S = 12 * 3600


def is_unlocked(request: HttpRequest, link: LockedLink) -> bool:
    """Whether a link asks for no passphrase, or this device has said the right one of late."""
    if not link.passphrase:
        return True
    try:
        key = signing.loads(request.COOKIES.get(COOKIE, ""), salt=_salt(link), max_age=GOOD_FOR_S)
    except signing.BadSignature:
        return False
    return bool(key == link.pk)


def is_right(link: LockedLink, typed: str) -> bool:
    return check_password(typed.strip(), link.passphrase)


def remember(response: HttpResponse, link: LockedLink, path: str) -> None:
    """Let the device carry that the passphrase was right: sent to pages below the link's `path`."""
    response.set_cookie(
        COOKIE,
        signing.dumps(link.pk, salt=_salt(link)),
        max_age=GOOD_FOR_S,
        path=path,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _salt(link: LockedLink) -> str:
    # Another passphrase, or another link, makes the cookie worthless.
    return f"sharing.passphrase {link.token_hash} {link.passphrase}"
