"""Addresses of this room."""

from django.urls import path

from apps.lightmap.check import views

urlpatterns = [
    path("tanks/<int:tank_pk>/forecasts/", views.forecast_scores, name="forecast_scores"),
    path("tanks/<int:tank_pk>/check/", views.check_new, name="check_new"),
]
