"""How a secret address is opened: the one guard of all pages that need no account."""

from collections.abc import Callable
from functools import wraps

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from apps.common.throttling import PAGE, PASSPHRASE, Pace, mark_wrong, note_wrong_word, paced
from apps.sharing.models import LockedLink
from apps.sharing.passphrase import is_right, is_unlocked, remember

View = Callable[..., HttpResponse]

PRIVACY_HEADERS = {
    "X-Robots-Tag": "noindex, nofollow",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "private, no-store",
}


def opened_by_token(
    links: type[LockedLink], pace: Pace = PAGE, *, by: Callable[[View], View] = require_safe
) -> Callable[[View], View]:
    """Call view(request, link, ...) for a token that opens; any other meets one same page.

    `by` is the decorator of the methods that are answered.
    """

    def guard(view: View) -> View:
        @wraps(view)
        @by
        @paced(pace)
        def checked(request: HttpRequest, token: str, **kwargs: object) -> HttpResponse:
            link = links.objects.for_token(token)
            try:
                if link is None:
                    raise Http404
                if is_unlocked(request, link):
                    response = view(request, link, **kwargs)
                else:
                    response = locked(request, links, token)
            except Http404:
                response = closed(request)
            if link is None:
                mark_wrong(response)
            return private(request, response)

        return checked

    return guard


def unlocking(links: type[LockedLink], page: str) -> View:
    """Return the view that takes a link's passphrase and leads to its `page`."""

    # The address is the secret that a foreign page would have to know: no mark, and so no cookie.
    @csrf_exempt
    @require_POST
    @paced(PASSPHRASE)
    def unlock(request: HttpRequest, token: str) -> HttpResponse:
        link = links.objects.for_token(token)
        if link is None:
            return private(request, mark_wrong(closed(request)))
        if not is_right(link, request.POST.get("passphrase", "")):
            note_wrong_word(token)
            return private(request, locked(request, links, token, was_wrong=True))
        response = redirect(page, token)
        remember(response, link, reverse(page, args=[token]))
        return private(request, response)

    return unlock


def private(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Return an answer to a secret address: kept nowhere, and without a cookie for visitors."""
    for name, value in PRIVACY_HEADERS.items():
        response[name] = value
    if request.user.is_authenticated:
        # Forms of a page that tells nobody where they come from would be taken for foreign ones.
        response["Referrer-Policy"] = "same-origin"
        return response
    # Every page of ours carries a mark for forms; here is none that a visitor could send with it.
    request.META.pop("CSRF_COOKIE_NEEDS_UPDATE", None)
    return response


def closed(request: HttpRequest) -> HttpResponse:
    """Return the page of an address that opens nothing."""
    response = render(request, "sharing/shared_closed.html", status=404)
    return unlogged(response)


def locked(
    request: HttpRequest, links: type[LockedLink], token: str, *, was_wrong: bool = False
) -> HttpResponse:
    """Return the page that asks for a link's passphrase and says nothing of what it opens."""
    context = {"unlock_at": reverse(links.UNLOCK, args=[token]), "was_wrong": was_wrong}
    return unlogged(render(request, "sharing/shared_locked.html", context, status=403))


def unlogged(response: HttpResponse) -> HttpResponse:
    """Return an answer of which no log has the path, which holds the token."""
    # Django logs the path of each answer of 400 and more.
    response._has_been_logged = True
    return response
