"""Addresses of this room."""

from django.urls import path

from apps.surveys.removable import SURVEY
from apps.surveys.survey import views
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/surveys/", views.survey_list, name="survey_list"),
    path("tanks/<int:tank_pk>/surveys/new/", views.survey_new, name="survey_new"),
    path("surveys/<int:survey_pk>/", views.survey_detail, name="survey_detail"),
    path("surveys/<int:survey_pk>/edit/", views.survey_edit, name="survey_edit"),
    path("surveys/<int:survey_pk>/afresh/", views.survey_start_afresh, name="survey_start_afresh"),
    *removal_paths(SURVEY),
    path("surveys/<int:survey_pk>/export/", views.survey_export, name="survey_export"),
]
