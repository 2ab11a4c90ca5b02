"""Addresses of this room."""

from django.urls import path

from apps.planning import views

urlpatterns = [
    path("plans/", views.plan_list, name="plan_list"),
    path("tanks/<int:tank_pk>/plans/", views.tank_plan_list, name="tank_plan_list"),
    path("plans/<int:pk>/remove/", views.plan_remove, name="plan_remove"),
    path("plans/<int:pk>/restore/", views.plan_restore, name="plan_restore"),
    path("plans/<int:pk>/duplicate/", views.plan_duplicate, name="plan_duplicate"),
]
