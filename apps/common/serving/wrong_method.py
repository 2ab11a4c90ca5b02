"""A page for whoever opens an address that only takes in forms."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


class FormAddressMiddleware:
    """Give a browser that opens an address made for POST a page with a way on.

    A phone that reopens a tab, and a sign-in that ran out while a form was sent, end there.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        was_opened = request.method == "GET" and "text/html" in request.headers.get("Accept", "")
        if response.status_code != 405 or response.content or not was_opened:
            return response
        page = render(request, "405.html", status=405)
        page["Allow"] = response["Allow"]
        return page
