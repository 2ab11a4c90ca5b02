"""Slowing down whoever asks too often at the addresses that open without an account.

How often one network asks at one address is counted by each worker for itself: it spares the
server a script, and people who click, drag and poll stay far below.

What may be a guess is counted by all workers together, and none is lost where many come at once.
Beyond `WRONG` addresses a network gets no answer for a while but at those that it had opened
before, so that a guesser does not shut out the honest ones beside it. The words tried at a locked
link are counted for each network before they are looked at, and the wrong ones for the link, so
that many networks get one guesser no further.
"""

import hashlib
import ipaddress
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps

from allauth.account.adapter import get_adapter
from django.core.cache import caches
from django.core.exceptions import ImproperlyConfigured, PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

View = Callable[..., HttpResponse]

# A keeper's own network: the part of an IPv6 address that a provider hands out at least.
IPV6_NETWORK_BITS = 64
# A calendar that asks once a week is still known.
KNOWN_FOR_S = 8 * 24 * 3600


@dataclass(frozen=True)
class Pace:
    """At most so many requests in a stretch of time [s]."""

    name: str
    most: int
    within_s: int
    # Counted by all workers together, each request a row for that long.
    by_all: bool = False


# 256 random bits are not guessed at any pace; this spares the database, too.
WRONG = Pace("wrong", 60, 600)
# A slider drawn without a rest asks up to 20 times a second, a club in one hall a few hundred
# times a minute; a page of notes brings a hundred photos at once.
PAGE = Pace("page", 3000, 600)
PHOTO = Pace("photo", 6000, 600)
# A word that a friend was told is typed wrong a few times; a guesser gets no further.
PASSPHRASE = Pace("passphrase", 10, 600, by_all=True)
# Wrong words at one link, whoever typed them: chosen, far above what the friends of a club mistype.
WRONG_WORDS = Pace("wrong-words", 100, 600)
# Calendar programs ask from every few minutes to once a day, several in one home.
CALENDAR = Pace("calendar", 120, 3600)


def paced(pace: Pace, *, plain: bool = False) -> Callable[[View], View]:
    """Return a decorator for view(request, token, ...) that holds a Pace; `plain` answers text.

    A view tells by `mark_wrong` that its token opens nothing.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def held(request: HttpRequest, token: str, **kwargs: object) -> HttpResponse:
            if wait_s := seconds_to_wait(pace, request, token):
                return too_many(request, wait_s, plain=plain)
            response = view(request, token, **kwargs)
            note_opening(request, token, opens=not getattr(response, "is_wrong_address", False))
            return response

        return held

    return decorate


def seconds_to_wait(pace: Pace, request: HttpRequest, token: str) -> int:
    """Count a request at a secret address; return how long to wait [s], 0 when it may go on."""
    if pace is PASSPHRASE and _is_full(WRONG_WORDS, _fingerprint(token)):
        return _left_s(WRONG_WORDS)
    visitor = _fingerprint(network_of(request))
    return _wait_s(pace, visitor, _fingerprint(visitor, token))


def note_opening(request: HttpRequest, token: str, *, opens: bool) -> None:
    """Remember that a secret address opens something, or count it as a wrong one."""
    visitor = _fingerprint(network_of(request))
    if opens:
        _remember(_fingerprint(visitor, token))
    else:
        _count_each(WRONG, visitor)


def note_wrong_word(token: str) -> None:
    """Count a word that did not open a locked link."""
    _count_each(WRONG_WORDS, _fingerprint(token))


def mark_wrong(response: HttpResponse) -> HttpResponse:
    """Say of an answer that its address opens nothing, and return it."""
    response.is_wrong_address = True
    # Django logs the path of a 404, and this path holds a token.
    response._has_been_logged = True
    return response


def network_of(request: HttpRequest) -> str:
    """Return the network a request comes from, named as sign-in throttles name it."""
    try:
        # Trusts as many proxies as REEFLOG_PROXY_COUNT says.
        ip = ipaddress.ip_address(get_adapter().get_client_ip(request))
    except (PermissionDenied, ImproperlyConfigured, ValueError):
        return "unknown"
    if ip.version == 4:
        return str(ip)
    return str(ipaddress.ip_network((ip, IPV6_NETWORK_BITS), strict=False))


def too_many(request: HttpRequest, wait_s: int, *, plain: bool = False) -> HttpResponse:
    """Return the answer to one request too many, which says when to come back."""
    minutes = -(-wait_s // 60)
    wait = "a minute" if minutes == 1 else f"{minutes} minutes"
    if plain:
        text = f"Too many requests. Please try again in {wait}.\n"
        response = HttpResponse(text, status=429, content_type="text/plain; charset=utf-8")
    else:
        response = render(request, "too_many_requests.html", {"wait": wait}, status=429)
    response["Retry-After"] = wait_s
    response["Cache-Control"] = "private, no-store"
    response["Referrer-Policy"] = "no-referrer"
    response._has_been_logged = True
    return response


def _wait_s(pace: Pace, visitor: str, address: str) -> int:
    """Return how long a visitor must wait [s]; 0 when they may go on."""
    if _is_full(WRONG, visitor) and not _is_known(address):
        return _left_s(WRONG)
    count = _count_each if pace.by_all else _count
    return _left_s(pace) if count(pace, address) > pace.most else 0


def _is_full(pace: Pace, whom: str) -> bool:
    """Return whether as many were counted by `_count_each` as may be."""
    count: int = caches["default"].get(_key(pace, whom), 0)
    return count >= pace.most


def _count(pace: Pace, whom: str) -> int:
    """Count one more in this worker; return the count. One of two at once may be lost."""
    cache, key = caches["paces"], _key(pace, whom)
    count: int = cache.get(key, 0) + 1
    cache.set(key, count, pace.within_s)
    return count


def _count_each(pace: Pace, whom: str) -> int:
    """Count one more of all workers; return the count, one above the most where it is full.

    Each has a row of its own, which only one can add: a number that is read and written anew
    would lose one of two at once. The number beside them only says where to begin.
    """
    cache, key = caches["default"], _key(pace, whom)
    for n in range(cache.get(key, 0), pace.most):
        if cache.add(f"{key}:{n}", True, pace.within_s):
            cache.set(key, n + 1, pace.within_s)
            return n + 1
    cache.set(key, pace.most, pace.within_s)
    return pace.most + 1


def _key(pace: Pace, whom: str) -> str:
    return f"pace:{pace.name}:{whom}:{int(time.time() // pace.within_s)}"


def _left_s(pace: Pace) -> int:
    return int(pace.within_s - time.time() % pace.within_s) + 1


def _remember(address: str) -> None:
    # Written once a worker, not once a request.
    if caches["paces"].add(f"known:{address}", True, KNOWN_FOR_S // 2):
        caches["default"].set(f"known:{address}", True, KNOWN_FOR_S)


def _is_known(address: str) -> bool:
    return caches["default"].get(f"known:{address}", False)


def _fingerprint(*parts: str) -> str:
    # Neither whose network it is nor the token is kept.
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()
