"""What every fragment shares: how it is rendered, and what happens when the sign-in ran out."""

from collections.abc import Callable, Mapping

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render, resolve_url
from django.template.loader import render_to_string


def render_part(
    request: HttpRequest,
    page: str,
    fragment: str,
    context: Mapping[str, object],
    *,
    status: int = 200,
) -> HttpResponse:
    """Render the fragment for htmx and the whole page otherwise, from one context."""
    wants_fragment = request.htmx and not request.htmx.history_restore_request
    return render(request, fragment if wants_fragment else page, context, status=status)


def go_to(request: HttpRequest, url: str) -> HttpResponse:
    """Send the browser to `url`, whether htmx asked or the browser itself."""
    if request.htmx:
        return HttpResponse(status=204, headers={"HX-Redirect": resolve_url(url)})
    response = HttpResponseRedirect(resolve_url(url))
    response.status_code = 303
    return response


class SignInForFragmentsMiddleware:
    """Turn "redirect to sign-in" into a notice when htmx asked.

    A followed redirect would put the sign-in page where the form stands and lose
    what was typed; the notice leaves the form alone.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        login = resolve_url(settings.LOGIN_URL)
        sent_to_login = response.status_code == 302 and response["Location"].startswith(login)
        if not (request.htmx and sent_to_login):
            return response
        notice = render_to_string("_signed_out.html", {"login_url": login}, request=request)
        return HttpResponse(
            notice,
            status=401,
            headers={"HX-Retarget": "#notice", "HX-Reswap": "innerHTML"},
        )
