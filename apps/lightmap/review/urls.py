"""Addresses of this room."""

from django.urls import path

from apps.lightmap.review import views

urlpatterns = [
    path("surveys/<int:survey_pk>/review/", views.survey_review, name="survey_review"),
]
