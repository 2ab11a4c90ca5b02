"""Addresses of this room."""

from django.urls import path

from apps.lightmap.page import views

urlpatterns = [
    path("tanks/<int:tank_pk>/map/", views.light_map, name="light_map"),
    path("tanks/<int:tank_pk>/map/why/", views.light_map_why, name="light_map_why"),
    path("tanks/<int:tank_pk>/map/box/", views.light_map_box, name="light_map_box"),
    path("tanks/<int:tank_pk>/map/next/", views.light_map_next, name="light_map_next"),
]
