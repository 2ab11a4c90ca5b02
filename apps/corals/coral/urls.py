"""Addresses of this room."""

from django.urls import path

from apps.corals.coral import change_views, many_views, spot_views, views
from apps.corals.removable import CORAL, SPOT
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/corals/", views.coral_list, name="coral_list"),
    path("tanks/<int:tank_pk>/corals/new/", views.coral_new, name="coral_new"),
    path("light/<int:pk>/effect/", change_views.light_change_effect, name="light_change_effect"),
    path("tanks/<int:tank_pk>/corals/many/", many_views.coral_many, name="coral_many"),
    path("corals/<int:pk>/", views.coral_detail, name="coral_detail"),
    path("corals/<int:pk>/compare/", views.coral_compare, name="coral_compare"),
    path("corals/<int:pk>/edit/", views.coral_edit, name="coral_edit"),
    *removal_paths(CORAL),
    path("tanks/<int:tank_pk>/spot-light/", spot_views.spot_light, name="spot_light"),
    path("corals/<int:coral_pk>/spots/new/", spot_views.spot_new, name="spot_new"),
    path("spots/<int:pk>/edit/", spot_views.spot_edit, name="spot_edit"),
    *removal_paths(SPOT),
]
