"""Addresses of this room."""

from django.urls import path

from apps.lighting.change import views

urlpatterns = [
    path("tanks/<int:tank_pk>/light/", views.light_change_list, name="light_change_list"),
    path("tanks/<int:tank_pk>/light/new/", views.light_change_new, name="light_change_new"),
    path("light/<int:pk>/edit/", views.light_change_edit, name="light_change_edit"),
    path("light/<int:pk>/remove/", views.light_change_remove, name="light_change_remove"),
    path("light/<int:pk>/restore/", views.light_change_restore, name="light_change_restore"),
]
