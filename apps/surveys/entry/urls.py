"""Addresses of this room."""

from django.urls import path

from apps.surveys.entry import offline_views, views

urlpatterns = [
    path("surveys/enter/", views.entry_shell, name="entry_shell"),
    path("surveys/<int:survey_pk>/enter/", views.survey_enter, name="survey_enter"),
    path("surveys/<int:survey_pk>/sync/", views.survey_sync, name="survey_sync"),
    path("service-worker.js", offline_views.service_worker, name="service_worker"),
    path("manifest.webmanifest", offline_views.manifest, name="manifest"),
]
