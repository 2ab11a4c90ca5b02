"""Addresses of this room."""

from django.urls import path

from apps.corals.notes import list_views, round_views, views
from apps.corals.removable import NOTE
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/notes/", list_views.note_list, name="note_list"),
    path("corals/<int:coral_pk>/notes/new/", views.note_new, name="note_new"),
    path("notes/<int:pk>/edit/", views.note_edit, name="note_edit"),
    *removal_paths(NOTE),
    path(
        "notes/<int:pk>/others/<int:other_pk>/use/",
        views.note_other_use,
        name="note_other_use",
    ),
    path(
        "notes/<int:pk>/others/<int:other_pk>/settle/",
        views.note_other_settle,
        name="note_other_settle",
    ),
    path("photos/<uuid:key>/<str:size>/", views.photo_show, name="photo_show"),
    path("corals/round/", round_views.round_shell, name="round_shell"),
    path("tanks/<int:tank_pk>/round/", round_views.coral_round, name="coral_round"),
    path("tanks/<int:tank_pk>/round/sync/", round_views.round_sync, name="round_sync"),
]
