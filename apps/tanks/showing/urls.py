"""Addresses of this room."""

from django.urls import path

from apps.tanks.showing import views

urlpatterns = [
    path("tanks/<int:tank_pk>/clubs/", views.tank_clubs, name="tank_clubs"),
    path("tanks/<int:tank_pk>/clubs/<int:club_pk>/", views.tank_show, name="tank_show"),
    path("clubs/<int:club_pk>/own-tanks/", views.club_own_tanks, name="club_own_tanks"),
]
