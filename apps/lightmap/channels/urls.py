"""Addresses of this room."""

from django.urls import path

from apps.lightmap.channels import log_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/logger/", log_views.log_list, name="log_list"),
    path("tanks/<int:tank_pk>/logger/new/", log_views.log_new, name="log_new"),
    path("logger/<int:log_pk>/", log_views.log_detail, name="log_detail"),
    path("logger/<int:log_pk>/remove/", log_views.log_remove, name="log_remove"),
    path("logger/<int:log_pk>/restore/", log_views.log_restore, name="log_restore"),
    path("tanks/<int:tank_pk>/channels/", views.channel_mix, name="channel_mix"),
]
