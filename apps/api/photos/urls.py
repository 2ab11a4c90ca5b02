"""Addresses of this room, below a coral's."""

from rest_framework.routers import SimpleRouter

from apps.api.photos.views import PhotoViewSet

of_coral = SimpleRouter(use_regex_path=False)
of_coral.register("photos", PhotoViewSet, basename="api-photo")

urlpatterns = of_coral.urls
