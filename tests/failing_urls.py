"""The site's addresses and some that fail, for the tests of the error pages."""

import errno

from django.http import HttpResponse
from django.urls import path

from reeflog.urls import handler500
from reeflog.urls import urlpatterns as site_urlpatterns

__all__ = ["handler500", "urlpatterns"]


def boom(request):
    raise RuntimeError("on purpose")


def full(request):
    raise OSError(errno.ENOSPC, "No space left on device")


def session(request):
    request.session["touched"] = True
    return HttpResponse("ok")


urlpatterns = [
    path("boom/", boom),
    path("full/", full),
    path("api/full/", full),
    path("session/", session),
    *site_urlpatterns,
]
