"""Addresses of this room."""

from django.urls import path

from apps.planning.acclimation import views
from apps.planning.removable import ACCLIMATION
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path(
        "tanks/<int:tank_pk>/acclimation/",
        views.acclimation_list,
        name="acclimation_list",
    ),
    path(
        "tanks/<int:tank_pk>/acclimation/new/",
        views.acclimation_tank_new,
        name="acclimation_tank_new",
    ),
    path(
        "corals/<int:coral_pk>/acclimation/",
        views.acclimation_of_coral,
        name="acclimation_of_coral",
    ),
    path(
        "corals/<int:coral_pk>/acclimation/new/",
        views.acclimation_new,
        name="acclimation_new",
    ),
    path("acclimation/<int:pk>/", views.acclimation_detail, name="acclimation_detail"),
    path(
        "acclimation/<int:pk>/steps.ics",
        views.acclimation_calendar,
        name="acclimation_calendar",
    ),
    path("acclimation/<int:pk>/edit/", views.acclimation_edit, name="acclimation_edit"),
    path(
        "acclimation/<int:pk>/steps/<int:number>/",
        views.acclimation_tick,
        name="acclimation_tick",
    ),
    path(
        "acclimation/ticks/<int:tick_pk>/remove/",
        views.acclimation_untick,
        name="acclimation_untick",
    ),
    *removal_paths(ACCLIMATION),
]
