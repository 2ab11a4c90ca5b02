"""Addresses of this room."""

from django.urls import path

from apps.outcomes.report import views

urlpatterns = [
    path("tanks/<int:tank_pk>/outcomes/report/", views.outcome_report, name="outcome_report"),
]
