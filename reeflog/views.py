"""The front door, and what is shown when something breaks."""

import logging
import sys

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.views.defaults import page_not_found

from apps.api.problems import MEDIA_TYPE, problem
from reeflog.front_map import front_map, front_water
from reeflog.unsaved import Why, why_unsaved

logger = logging.getLogger(__name__)

# When a device may try again [s]: a host who makes room needs some minutes, a database that is
# started anew some seconds.
RETRY_AFTER_S = {Why.FULL: 600, Why.READ_ONLY: 600, Why.NO_DATABASE: 10}
WORDS = {
    Why.FULL: "The disk of this site is full.",
    Why.READ_ONLY: "The disk of this site takes nothing in.",
    Why.NO_DATABASE: "The database of this site is away for a moment.",
}


# Of an address below the API's that is none.
NO_ADDRESS = "No such address. They are all at /api/v1/docs/."


def api_problem(status: int, text: str) -> HttpResponse:
    """Answer a call of the API that no view of it answers."""
    return JsonResponse(problem(status, text), status=status, content_type=MEDIA_TYPE)


def home(request):
    """Show what reeflog is to a visitor; take a keeper to their tanks."""
    if request.user.is_authenticated:
        return redirect("tank_list")
    return render(request, "home.html", {"map": front_map(), "water": front_water()})


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an address that is none; under the API's, as the API refuses all else."""
    if request.path.startswith("/api/"):
        return api_problem(404, NO_ADDRESS)
    return page_not_found(request, exception)


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer what broke: the host's machine by name, all else as our mistake. Needs no database."""
    why = why_unsaved(sys.exc_info()[1])
    if why:
        logger.error("%s Nothing was saved.", WORDS[why])
    status = 503 if why else 500
    if request.path.startswith("/api/"):
        text = f"{WORDS[why]} Try again later." if why else "Our mistake."
        response = api_problem(status, text)
    else:
        # Nothing here may ask for the reader.
        context = {"words": WORDS[why], "is_brief": why is Why.NO_DATABASE} if why else {}
        response = HttpResponse(render_to_string(f"{status}.html", context), status=status)
    if why:
        response["Retry-After"] = RETRY_AFTER_S[why]
    return response
