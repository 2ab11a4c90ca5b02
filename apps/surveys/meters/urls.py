"""Addresses of this room."""

from django.urls import path

from apps.surveys.meters import check_views, cross_check_views, views
from apps.surveys.meters.removable import METER, METER_CHECK
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path(
        "surveys/<int:survey_pk>/cross-check/",
        cross_check_views.survey_cross_check,
        name="survey_cross_check",
    ),
    path(
        "surveys/<int:survey_pk>/cross-check/keep/",
        check_views.cross_check_keep,
        name="cross_check_keep",
    ),
    path("meters/", views.meter_list, name="meter_list"),
    path("meters/new/", views.meter_new, name="meter_new"),
    path("meters/<int:meter_pk>/edit/", views.meter_edit, name="meter_edit"),
    path("meters/<int:meter_pk>/check/", check_views.meter_check_new, name="meter_check_new"),
    path("meters/<int:meter_pk>/factor/", check_views.meter_take_factor, name="meter_take_factor"),
    *removal_paths(METER),
    *removal_paths(METER_CHECK),
]
