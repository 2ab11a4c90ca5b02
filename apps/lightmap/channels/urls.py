"""Addresses of this room."""

from django.urls import path

from apps.lightmap.channels import log_views, views
from apps.lightmap.removable import LOGGER_SERIES
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/logger/", log_views.log_list, name="log_list"),
    path("tanks/<int:tank_pk>/logger/new/", log_views.log_new, name="log_new"),
    path("logger/<int:log_pk>/", log_views.log_detail, name="log_detail"),
    *removal_paths(LOGGER_SERIES),
    path("tanks/<int:tank_pk>/channels/", views.channel_mix, name="channel_mix"),
]
