"""Addresses of this room."""

from django.urls import path

from apps.lightmap.page import views

urlpatterns = [
    path("tanks/<int:tank_pk>/map/", views.light_map, name="light_map"),
    path("tanks/<int:tank_pk>/map/why/", views.light_map_why, name="light_map_why"),
    path("tanks/<int:tank_pk>/map/read/", views.light_map_read, name="light_map_read"),
    path("tanks/<int:tank_pk>/map/next/", views.light_map_next, name="light_map_next"),
    path(
        "tanks/<int:tank_pk>/map/picture.png",
        views.light_map_picture,
        {"ending": "png"},
        name="light_map_png",
    ),
    path(
        "tanks/<int:tank_pk>/map/picture.svg",
        views.light_map_picture,
        {"ending": "svg"},
        name="light_map_svg",
    ),
]
