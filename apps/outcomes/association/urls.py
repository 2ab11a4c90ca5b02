"""Addresses of this room."""

from django.urls import path

from apps.outcomes.association import views

urlpatterns = [
    path("tanks/<int:tank_pk>/outcomes/export/", views.outcome_export, name="outcome_export"),
    path(
        "tanks/<int:tank_pk>/outcomes/export/corals/",
        views.outcome_export_corals,
        name="outcome_export_corals",
    ),
    path("tanks/<int:tank_pk>/outcomes/weighing/", views.outcome_weighing, name="outcome_weighing"),
    path(
        "tanks/<int:tank_pk>/outcomes/<int:note_pk>/", views.outcome_detail, name="outcome_detail"
    ),
]
