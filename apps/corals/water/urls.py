"""Addresses of this room."""

from django.urls import path

from apps.corals.removable import WATER_EVENT
from apps.corals.water import views
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/water/", views.water_event_list, name="water_event_list"),
    path("tanks/<int:tank_pk>/water/new/", views.water_event_new, name="water_event_new"),
    path(
        "tanks/<int:tank_pk>/water/import/",
        views.water_event_import,
        name="water_event_import",
    ),
    path("water/<int:pk>/edit/", views.water_event_edit, name="water_event_edit"),
    *removal_paths(WATER_EVENT),
]
