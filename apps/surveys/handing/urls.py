"""Addresses of this room."""

from django.urls import path

from apps.surveys.handing import views

urlpatterns = [
    path("surveys/<int:survey_pk>/hand-over/", views.survey_hand, name="survey_hand"),
    path(
        "clubs/<int:club_pk>/surveys/<int:offer_pk>/", views.club_survey_take,
        name="club_survey_take",
    ),
]  # fmt: skip
