"""The front door, and what is shown when something breaks."""

import logging
import sys

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string

from reeflog.disk_full import is_disk_full
from reeflog.front_map import front_map, front_water

logger = logging.getLogger(__name__)

# When a device may try again [s]: a host who makes room needs some minutes.
RETRY_AFTER_S = 600


def home(request):
    """Show what reeflog is to a visitor; take a keeper to their tanks."""
    if request.user.is_authenticated:
        return redirect("tank_list")
    return render(request, "home.html", {"map": front_map(), "water": front_water()})


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer what broke: a full disk by name, all else as our mistake. Needs no database."""
    no_room = is_disk_full(sys.exc_info()[1])
    if no_room:
        logger.error("The disk is full: nothing can be saved.")
    status = 503 if no_room else 500
    if request.path.startswith("/api/"):
        text = "The disk of this site is full. Try again later." if no_room else "Our mistake."
        response = JsonResponse({"detail": text}, status=status)
    else:
        # With an empty context: nothing here may ask for the reader.
        response = HttpResponse(render_to_string(f"{status}.html"), status=status)
    if no_room:
        response["Retry-After"] = RETRY_AFTER_S
    return response
