"""The one page that shows a secret address: what it answers with, and that its form was taken."""

from collections.abc import Mapping

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from apps.common.drafts import note_taken


def render_once(request: HttpRequest, page: str, context: Mapping[str, object]) -> HttpResponse:
    """Render the answer to the form that made an address, in which alone the address stands.

    It leads nowhere, so it says itself that the form was taken: put back as a draft it would
    make the next link with what the last one showed.
    """
    note_taken(request)
    response = render(request, page, context)
    # Neither a cache nor the next site may learn the address.
    response["Cache-Control"] = "private, no-store"
    response["Referrer-Policy"] = "no-referrer"
    return response
