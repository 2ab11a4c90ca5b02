"""Addresses of this room."""

from django.urls import path

from apps.outcomes.case import views

urlpatterns = [
    path("tanks/<int:tank_pk>/outcomes/", views.outcome_list, name="outcome_list"),
    path("corals/<int:coral_pk>/case/", views.coral_case, name="coral_case"),
    path("corals/<int:coral_pk>/case/proof/", views.coral_case_proof, name="coral_case_proof"),
    path("corals/<int:coral_pk>/case/check/", views.coral_case_check, name="coral_case_check"),
]
