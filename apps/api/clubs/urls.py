"""Addresses of this room."""

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.api.clubs import door_views, meter_views, views

clubs = SimpleRouter()
clubs.register("clubs", views.ClubViewSet, basename="api-club")

of_club = SimpleRouter()
of_club.register("members", views.ClubMemberViewSet, basename="api-club-member")
of_club.register("links", door_views.ClubLinkViewSet, basename="api-club-link")
of_club.register("blocked", door_views.BlockViewSet, basename="api-club-block")
of_club.register("meters", meter_views.ClubMeterViewSet, basename="api-club-meter")

of_meter = SimpleRouter()
of_meter.register("checks", meter_views.ClubMeterCheckViewSet, basename="api-club-meter-check")

urlpatterns = [
    path("", include(clubs.urls)),
    path("clubs/<int:club_pk>/", include(of_club.urls)),
    path("clubs/<int:club_pk>/meters/<int:meter_pk>/", include(of_meter.urls)),
]
