"""Addresses of this room."""

from django.urls import path

from apps.lightmap.compare import views

urlpatterns = [
    path("tanks/<int:tank_pk>/compare/", views.light_compare, name="light_compare"),
]
