"""Addresses of this room."""

from django.urls import path

from apps.lighting.offering import views

FIXTURES = "clubs/<int:club_pk>/fixtures/"

urlpatterns = [
    path(FIXTURES, views.club_fixtures, name="club_fixtures"),
    path(f"{FIXTURES}<int:fixture_pk>/copy/", views.club_fixture_copy, name="club_fixture_copy"),
]
