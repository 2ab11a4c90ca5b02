"""Addresses of this room."""

from django.urls import path

from apps.sharing.club import views

urlpatterns = [
    path("clubs/<int:club_pk>/maps/", views.club_maps, name="club_maps"),
    path("clubs/<int:club_pk>/tanks/<int:tank_pk>/", views.club_tank, name="club_tank"),
]
