"""Addresses of this room."""

from django.urls import path

from apps.api.pool import views

urlpatterns = [
    path("clubs/<int:club_pk>/pool/", views.ClubPoolView.as_view(), name="api-club-pool"),
    path("tanks/<int:tank_pk>/pool/", views.TankPoolView.as_view(), name="api-tank-pool"),
]
