"""Addresses of this room."""

from django.urls import path

from apps.api.deleted import views

urlpatterns = [
    path("deleted/", views.DeletedView.as_view(), name="api-deleted"),
    path("tanks/<int:tank_pk>/deleted/", views.TankDeletedView.as_view(), name="api-tank-deleted"),
    path(
        "deleted/<slug:kind>/<int:pk>/restore/",
        views.RestoreView.as_view(),
        name="api-deleted-restore",
    ),
]
