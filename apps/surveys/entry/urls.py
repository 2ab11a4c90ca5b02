"""Addresses of this room."""

from django.urls import path

from apps.surveys.entry import views

urlpatterns = [
    path("surveys/enter/", views.entry_shell, name="entry_shell"),
    path("surveys/<int:survey_pk>/enter/", views.survey_enter, name="survey_enter"),
    path("surveys/<int:survey_pk>/sync/", views.survey_sync, name="survey_sync"),
]
