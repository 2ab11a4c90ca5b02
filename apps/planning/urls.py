"""Addresses of this room."""

from django.urls import path

from apps.planning import views
from apps.planning.removable import PLAN
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("plans/", views.plan_list, name="plan_list"),
    path("tanks/<int:tank_pk>/plans/", views.tank_plan_list, name="tank_plan_list"),
    *removal_paths(PLAN),
    path("plans/<int:pk>/duplicate/", views.plan_duplicate, name="plan_duplicate"),
]
