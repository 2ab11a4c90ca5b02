"""What a site says of itself: its privacy, whom to tell of a hole, what robots may read."""

import datetime as dt

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

PLAIN = "text/plain; charset=utf-8"
# RFC 9116 advises less than a year; made anew whenever it is asked for.
SECURITY_TXT_DAYS = 180
# Only the front door says anything to a stranger; the rest is a sign-in page.
ROBOTS = "User-agent: *\nAllow: /$\nAllow: /glossary/$\nAllow: /static/\nDisallow: /\n"


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    """Say what is kept of whom, for how long, and how to get it or have it deleted."""
    context = {
        "contact": settings.CONTACT,
        "sends_mail": settings.MAILS == "sent",
        "sends_push": bool(settings.PUSH_KEY),
    }
    return render(request, "hosting/privacy.html", context)


@require_safe
def robots(request: HttpRequest) -> HttpResponse:
    return HttpResponse(ROBOTS, content_type=PLAIN)


@require_safe
def security_txt(request: HttpRequest) -> HttpResponse:
    """Say whom to tell of a hole (RFC 9116), where the host named somebody."""
    if not settings.CONTACT:
        raise Http404
    expires = timezone.now() + dt.timedelta(days=SECURITY_TXT_DAYS)
    own = request.build_absolute_uri(reverse("security_txt"))
    lines = [
        f"Contact: {settings.CONTACT}",
        f"Expires: {expires:%Y-%m-%dT00:00:00Z}",
        "Preferred-Languages: en",
        f"Canonical: {own}",
    ]
    return HttpResponse("\n".join([*lines, ""]), content_type=PLAIN)
