"""Addresses of this room."""

from django.urls import path

from apps.surveys.tables import import_views, reading_views

urlpatterns = [
    path(
        "surveys/<int:survey_pk>/readings/", reading_views.survey_readings, name="survey_readings"
    ),
    path(
        "surveys/<int:survey_pk>/readings/undo/<int:version>/",
        reading_views.survey_readings_undo,
        name="survey_readings_undo",
    ),
    path("surveys/<int:survey_pk>/import/", import_views.survey_import, name="survey_import"),
]
