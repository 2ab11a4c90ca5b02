"""Addresses of this room."""

from django.urls import path

from apps.corals.history import views
from apps.corals.removable import HISTORY_IMPORT
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/history/", views.history_import, name="history_import"),
    *removal_paths(HISTORY_IMPORT),
]
