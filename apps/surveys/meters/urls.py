"""Addresses of this room."""

from django.urls import path

from apps.surveys.meters import cross_check_views, views
from apps.surveys.removable import METER
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path(
        "surveys/<int:survey_pk>/cross-check/",
        cross_check_views.survey_cross_check,
        name="survey_cross_check",
    ),
    path("meters/", views.meter_list, name="meter_list"),
    path("meters/new/", views.meter_new, name="meter_new"),
    path("meters/<int:meter_pk>/edit/", views.meter_edit, name="meter_edit"),
    *removal_paths(METER),
]
