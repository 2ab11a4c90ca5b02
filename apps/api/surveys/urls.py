"""Addresses of this room, below a survey of a tank."""

from django.urls import path

from apps.api.surveys.cross_check_views import CrossCheckViewSet
from apps.api.surveys.plan_views import SurveyPlanViewSet
from apps.api.surveys.table_views import ReadingTableViewSet, SurveyUndoViewSet

PLAN = {"get": "read", "post": "lay_out", "delete": "empty"}

urlpatterns = [
    path("table/", ReadingTableViewSet.as_view({"post": "add"}), name="api-survey-table"),
    path(
        "table/look/", ReadingTableViewSet.as_view({"post": "look"}), name="api-survey-table-look"
    ),
    path("undo/", SurveyUndoViewSet.as_view({"post": "undo"}), name="api-survey-undo"),
    path(
        "cross-check/",
        CrossCheckViewSet.as_view({"post": "create"}),
        name="api-survey-cross-check",
    ),
    path("plan/", SurveyPlanViewSet.as_view(PLAN), name="api-survey-plan"),
    path("plan/look/", SurveyPlanViewSet.as_view({"post": "look"}), name="api-survey-plan-look"),
    path(
        "plan/<int:number>/",
        SurveyPlanViewSet.as_view({"delete": "remove"}),
        name="api-survey-plan-point",
    ),
]
