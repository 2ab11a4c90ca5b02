"""Pages of somebody who is signed in, and all of the API, are kept by no browser or proxy."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

PRIVATE = "private, no-store"


class PrivatePagesMiddleware:
    """Says so of every answer that knew its reader and says nothing of keeping itself.

    Stands outside of the session's own middleware. A page that asked for no session is the same
    for all, such as one behind a shared link.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        session = getattr(request, "session", None)
        knew_reader = session is not None and session.accessed
        is_private = knew_reader or request.path.startswith("/api/")
        if is_private and not response.has_header("Cache-Control"):
            response["Cache-Control"] = PRIVATE
        return response
