"""Addresses of this room."""

from django.urls import path

from apps.corals.history import photo_views, views
from apps.corals.removable import HISTORY_IMPORT
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/history/", views.history_import, name="history_import"),
    path("tanks/<int:tank_pk>/history/photos/", photo_views.history_photos, name="history_photos"),
    path("waiting-photos/<uuid:key>/", photo_views.sent_photo_show, name="sent_photo_show"),
    *removal_paths(HISTORY_IMPORT),
]
