"""Pages go out packed: a map is mostly the numbers of its drawing, a fifth of it when packed.

Static files are packed when they are collected; photos are already. Django adds a random length
to what it packs, so that sizes don't give away what a page holds of secrets.
"""

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

PACKED = ("text/", "application/json", "image/svg+xml")


class GZipPagesMiddleware(GZipMiddleware):
    """Packs what is text, and leaves files that are handed out as they come alone."""

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        if response.streaming or not response.get("Content-Type", "").startswith(PACKED):
            return response
        return super().process_response(request, cast(HttpResponse, response))
