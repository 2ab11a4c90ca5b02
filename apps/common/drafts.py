"""Telling a page which of the forms it sent were taken, so that only their drafts are dropped.

A form kept on the device (static/js/drafts.js) is sent with a mark of its own. An answer that
leads on to another page means it was taken: the mark comes back with the pages that follow.
An answer that is itself the page to see, such as a link shown once, says so by `note_taken`.
No answer, a refusal or the way to sign-in say nothing, and the draft stays.
"""

import re
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url

FIELD, COOKIE = "draft_mark", "reeflog_taken_drafts"
MARK = re.compile(r"[0-9a-f]{32}")
# Of several tabs at once; a page that follows drops what it is given.
MARKS_MOST = 10
# As long as a draft is kept [s].
KEPT_FOR = 31 * 24 * 3600


def note_taken(request: HttpRequest) -> None:
    """Say of a form whose answer leads nowhere that it was taken; before the page is rendered."""
    request.form_taken = True


def taken_marks(request: HttpRequest) -> list[str]:
    """Return the marks of forms taken lately, the latest last."""
    marks = MARK.findall(request.COOKIES.get(COOKIE, ""))
    if getattr(request, "form_taken", False):
        marks.append(request.POST.get(FIELD, ""))
    return [mark for mark in marks if MARK.fullmatch(mark)][-MARKS_MOST:]


def taken_drafts(request: HttpRequest) -> dict[str, str]:
    """Template context: the marks for a page to read; none in pages that are alike for all."""
    if not request.user.is_authenticated:
        return {}
    return {"taken_drafts": " ".join(taken_marks(request))}


class TakenDraftsMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.method != "POST":
            return response
        if _leads_on(response):
            note_taken(request)
        mark = request.POST.get(FIELD, "")
        if getattr(request, "form_taken", False) and MARK.fullmatch(mark):
            response.set_cookie(
                COOKIE,
                ".".join(taken_marks(request)),
                max_age=KEPT_FOR,
                httponly=True,
                samesite="Lax",
                secure=settings.SESSION_COOKIE_SECURE,
            )
        return response


def _leads_on(response: HttpResponse) -> bool:
    login = resolve_url(settings.LOGIN_URL)
    return response.status_code in (302, 303) and not response["Location"].startswith(login)
