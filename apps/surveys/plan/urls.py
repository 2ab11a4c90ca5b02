"""Addresses of this room."""

from django.urls import path

from apps.surveys.plan import views

urlpatterns = [
    path("surveys/<int:survey_pk>/plan/", views.survey_plan, name="survey_plan"),
    path("surveys/<int:survey_pk>/plan/sheet/", views.survey_sheet, name="survey_sheet"),
    path(
        "surveys/<int:survey_pk>/plan/<int:number>/remove/",
        views.planned_point_remove,
        name="planned_point_remove",
    ),
]
