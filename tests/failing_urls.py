"""The site's addresses and one that fails, for the test of the error page."""

from django.urls import path

from reeflog.urls import urlpatterns as site_urlpatterns


def boom(request):
    raise RuntimeError("on purpose")


urlpatterns = [path("boom/", boom), *site_urlpatterns]
