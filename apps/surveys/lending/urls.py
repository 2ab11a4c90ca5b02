"""Addresses of this room."""

from django.urls import path

from apps.surveys.lending import views

METER = "clubs/<int:club_pk>/meters/<int:meter_pk>/"

urlpatterns = [
    path("clubs/<int:club_pk>/meters/new/", views.club_meter_new, name="club_meter_new"),
    path(METER, views.club_meter, name="club_meter"),
    path(f"{METER}ask/", views.club_meter_ask, name="club_meter_ask"),
    path(f"{METER}hand-over/", views.club_meter_hand_over, name="club_meter_hand_over"),
    path(f"{METER}back/", views.club_meter_back, name="club_meter_back"),
    path(f"{METER}until/", views.club_meter_until, name="club_meter_until"),
]
