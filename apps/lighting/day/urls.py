"""Addresses of this room."""

from django.urls import path

from apps.lighting.day import views
from apps.lighting.removable import DAY_CURVE
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/days/", views.day_curve_list, name="day_curve_list"),
    path("tanks/<int:tank_pk>/days/new/", views.day_curve_new, name="day_curve_new"),
    path("days/<int:pk>/", views.day_curve_detail, name="day_curve_detail"),
    path("days/<int:pk>/edit/", views.day_curve_edit, name="day_curve_edit"),
    path("days/<int:pk>/copy/", views.day_curve_copy, name="day_curve_copy"),
    path("days/<int:pk>/start/", views.day_curve_start, name="day_curve_start"),
    *removal_paths(DAY_CURVE),
]
