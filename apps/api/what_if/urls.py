"""Addresses of this room, below a tank's."""

from django.urls import path

from apps.api.what_if.views import WhatIfViewSet

urlpatterns = [
    path("what-ifs/", WhatIfViewSet.as_view({"post": "create"}), name="api-what-if"),
    path("what-ifs/look/", WhatIfViewSet.as_view({"post": "look"}), name="api-what-if-look"),
]
