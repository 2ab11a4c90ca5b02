"""Addresses of this room."""

from django.urls import path

from apps.planning.what_if import plan_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/what-if/", views.what_if_show, name="what_if"),
    path("tanks/<int:tank_pk>/what-if/save/", views.what_if_save, name="what_if_save"),
    path("plans/what-if/<int:pk>/", plan_views.what_if_detail, name="what_if_detail"),
]
