"""Addresses of this room."""

from django.urls import path

from apps.planning.place import views

urlpatterns = [
    path("tanks/<int:tank_pk>/place/", views.place_coral, name="place_coral"),
]
