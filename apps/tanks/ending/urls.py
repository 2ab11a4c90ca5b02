"""Addresses of this room."""

from django.urls import path

from apps.tanks.ending import views

urlpatterns = [
    path("tanks/<int:tank_pk>/end/", views.tank_end, name="tank_end"),
    path("tanks/<int:tank_pk>/reopen/", views.tank_reopen, name="tank_reopen"),
]
