"""Addresses of this room."""

from django.urls import path

from apps.lighting.change import done_views, views
from apps.lighting.removable import LIGHT_CHANGE
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/light/", views.light_change_list, name="light_change_list"),
    path("tanks/<int:tank_pk>/light/new/", views.light_change_new, name="light_change_new"),
    path("tanks/<int:tank_pk>/light/done/", done_views.light_change_done, name="light_change_done"),
    path("light/<int:pk>/edit/", views.light_change_edit, name="light_change_edit"),
    *removal_paths(LIGHT_CHANGE),
]
