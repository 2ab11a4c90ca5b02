from django.urls import path

from apps.corals import (
    change_views,
    note_views,
    round_views,
    spot_views,
    views,
    water_views,
)

urlpatterns = [
    path("tanks/<int:tank_pk>/corals/", views.coral_list, name="coral_list"),
    path("tanks/<int:tank_pk>/corals/new/", views.coral_new, name="coral_new"),
    path("light/<int:pk>/effect/", change_views.light_change_effect, name="light_change_effect"),
    path("corals/<int:pk>/", views.coral_detail, name="coral_detail"),
    path("corals/<int:pk>/edit/", views.coral_edit, name="coral_edit"),
    path("corals/<int:pk>/remove/", views.coral_remove, name="coral_remove"),
    path("corals/<int:pk>/restore/", views.coral_restore, name="coral_restore"),
    path("tanks/<int:tank_pk>/spot-light/", spot_views.spot_light, name="spot_light"),
    path("corals/<int:coral_pk>/spots/new/", spot_views.spot_new, name="spot_new"),
    path("corals/<int:coral_pk>/spots/restore/", spot_views.spot_restore, name="spot_restore"),
    path("spots/<int:pk>/edit/", spot_views.spot_edit, name="spot_edit"),
    path("spots/<int:pk>/remove/", spot_views.spot_remove, name="spot_remove"),
    path("corals/<int:coral_pk>/notes/new/", note_views.note_new, name="note_new"),
    path("notes/<int:pk>/edit/", note_views.note_edit, name="note_edit"),
    path("notes/<int:pk>/remove/", note_views.note_remove, name="note_remove"),
    path("notes/<int:pk>/restore/", note_views.note_restore, name="note_restore"),
    path("photos/<uuid:key>/<str:size>/", note_views.photo_show, name="photo_show"),
    path("corals/round/", round_views.round_shell, name="round_shell"),
    path("tanks/<int:tank_pk>/round/", round_views.coral_round, name="coral_round"),
    path("tanks/<int:tank_pk>/round/sync/", round_views.round_sync, name="round_sync"),
    path("tanks/<int:tank_pk>/water/", water_views.water_event_list, name="water_event_list"),
    path("tanks/<int:tank_pk>/water/new/", water_views.water_event_new, name="water_event_new"),
    path(
        "tanks/<int:tank_pk>/water/import/",
        water_views.water_event_import,
        name="water_event_import",
    ),
    path("water/<int:pk>/edit/", water_views.water_event_edit, name="water_event_edit"),
    path("water/<int:pk>/remove/", water_views.water_event_remove, name="water_event_remove"),
    path("water/<int:pk>/restore/", water_views.water_event_restore, name="water_event_restore"),
]
