"""A page of a tank is made once, and kept until anything that it may show has changed.

    @login_required
    @kept_page(readable_tank)       # who may see it is asked each time
    @reading_once()
    def light_map(request, tank_pk): ...

The key is all that a page is made of: the keeper, the address, what htmx asks for, the stamp of
the tank and that of what all tanks share (`triggers.py`), and five minutes of the clock. What
differs each time is filled in: the token against forged forms, the marks of forms.
"""

import gzip
import hashlib
import re
from collections.abc import Callable
from functools import wraps
from typing import Any, NamedTuple, cast

from django.conf import settings
from django.contrib.messages import get_messages
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from apps.common import idempotency
from apps.common.drafts import taken_marks
from apps.common.kept import alone_with, look_up, open_store, put
from apps.tanks.kept_pages.models import ALL_TANKS, TankStamp
from apps.tanks.kept_pages.turns import Turns

View = Callable[..., HttpResponseBase]
# How long a page may go on saying "now" and "in 3 days" as it was; five minutes end with the
# quarter of an hour, and so with the day of every time zone [min].
MINUTES = 5
TURNS = Turns()
STAMPS = f"SELECT tank_pk, number FROM {TankStamp._meta.db_table} WHERE tank_pk IN (%s, %s)"
TOKEN = re.compile(rb'(?:"X-CSRFToken": "|name="csrfmiddlewaretoken" value=")([A-Za-z0-9]{64})"')
MARK = re.compile(rb'name="%s" value="([0-9a-f]{32})"' % idempotency.FIELD.encode())
TOKEN_HERE, MARK_HERE = b"<!token here!>", b"<!mark here!>"


class KeptPage(NamedTuple):
    """A page without what differs each time; packed where nothing does, else empty."""

    content: bytes
    headers: list[tuple[str, str]]
    packed: bytes


def kept_page(readable: Callable[[Any, int], Any]) -> Callable[[View], View]:
    """Decorate a view that only reads rows of one tank, below `login_required`.

    `readable(user, number)` returns the tank that the address's first number names, or a row of
    it, and raises as the page would where the keeper may not see it.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def kept_view(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not may_be_looked_up(request):
                return view(request, *args, **kwargs)
            row = readable(request.user, next(iter(kwargs.values())))
            # A tank itself names no other.
            tank_pk = getattr(row, "tank_id", row.pk)
            return made_once(request, tank_pk, lambda: view(request, *args, **kwargs))

        kept_view.is_kept_page = True  # type: ignore[attr-defined]
        return kept_view

    return decorate


def may_be_looked_up(request: HttpRequest) -> bool:
    """Return whether a page is only read, and nothing is to be said on it this once."""
    reads = open_store("pages") is not None and request.method == "GET"
    return reads and not len(get_messages(request))


def made_once(
    request: HttpRequest, tank_pk: int, make: Callable[[], HttpResponseBase]
) -> HttpResponseBase:
    """Return the answer of make(), or the page it made before for the same key.

    Whoever calls it has asked whether the page may be seen.
    """
    store = open_store("pages")
    if store is None or not may_be_looked_up(request):
        return make()
    stamps = stamps_of(tank_pk)
    if tank_pk not in stamps:
        return make()  # not written since the triggers were made, or they are not there
    key = key_of(request, stamps)
    page = cast("KeptPage | None", look_up(store, key))
    if page is not None:
        return filled_in(request, page)
    # Before any wait: who has the turn may need the line of one that waits.
    give_line_back()
    with alone_with(store, key):
        page = cast("KeptPage | None", look_up(store, key))
        if page is not None:
            return filled_in(request, page)
        with TURNS.turn():
            response = make()
        if may_be_kept(request, response):
            put(store, key, as_kept(response), seconds=60 * MINUTES)
        return response


def give_line_back() -> None:
    """Where threads share lines to the database, let others have this one's while it waits."""
    if connection.settings_dict["OPTIONS"].get("pool") and not connection.in_atomic_block:
        connection.close()


def stamps_of(tank_pk: int) -> dict[int, int]:
    """Return the stamps of a tank and of what all tanks rest on, {tank: number}, if they are there.

    Asked for every page: by hand, since to build this query takes ten times as long as to run it.
    """
    with connection.cursor() as cursor:
        cursor.execute(STAMPS, [tank_pk, ALL_TANKS])
        return dict(cursor.fetchall())


def key_of(request: HttpRequest, stamps: dict[int, int]) -> str:
    """Return all that a page rests on, in a word; `stamps` are {tank: number}."""
    of_htmx = sorted((n, v) for n, v in request.headers.items() if n.startswith("Hx-"))
    parts = (
        request.user.pk,
        request.scheme,
        request.get_host(),
        request.get_full_path(),
        settings.MAINTENANCE_MESSAGE,
        of_htmx,
        taken_marks(request),
        sorted(stamps.items()),
        int(timezone.now().timestamp() // (60 * MINUTES)),
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def may_be_kept(request: HttpRequest, response: HttpResponseBase) -> bool:
    """Return whether a page is one for good: whole, and of nothing that is said once."""
    return (
        isinstance(response, HttpResponse)
        and response.status_code == 200
        and not response.cookies
        and not request.session.modified
        and not len(get_messages(request))
    )


def as_kept(response: HttpResponse) -> KeptPage:
    """Return a page as it is kept, without what differs each time."""
    content = response.content
    for token in set(TOKEN.findall(content)):
        content = content.replace(token, TOKEN_HERE)
    for mark in set(MARK.findall(content)):
        content = content.replace(mark, MARK_HERE)
    differs = TOKEN_HERE in content or MARK_HERE in content
    # What is packed once is sent a hundred times.
    return KeptPage(
        content, list(response.items()), b"" if differs else gzip.compress(content, mtime=0)
    )


def filled_in(request: HttpRequest, page: KeptPage) -> HttpResponse:
    """Return a page as it goes out: each form with a mark of its own."""
    if page.packed and "gzip" in request.headers.get("Accept-Encoding", ""):
        response = HttpResponse(page.packed, headers=dict(page.headers))
        response["Content-Encoding"] = "gzip"
        response["Content-Length"] = str(len(page.packed))
        patch_vary_headers(response, ["Accept-Encoding"])
        return response
    content = page.content
    if TOKEN_HERE in content:
        content = content.replace(TOKEN_HERE, get_token(request).encode())
    first, *others = content.split(MARK_HERE)
    marked = (idempotency.new_mark().encode() + part for part in others)
    return HttpResponse(b"".join((first, *marked)), headers=dict(page.headers))
