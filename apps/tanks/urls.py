from django.urls import path

from apps.tanks import deleted_views, rock_views, views
from apps.tanks.deleted_views import removal_paths
from apps.tanks.removable import ROCK, TANK

urlpatterns = [
    path("tanks/", views.tank_list, name="tank_list"),
    path("tanks/new/", views.tank_new, name="tank_new"),
    path("tanks/<int:tank_pk>/", views.tank_detail, name="tank_detail"),
    path("tanks/<int:tank_pk>/settings/", views.tank_settings, name="tank_settings"),
    path("tanks/<int:tank_pk>/rooms/", views.tank_rooms, name="tank_rooms"),
    path("tanks/<int:tank_pk>/edit/", views.tank_edit, name="tank_edit"),
    *removal_paths(TANK),
    path("tanks/<int:tank_pk>/rocks/new/", rock_views.rock_new, name="rock_new"),
    path("tanks/<int:tank_pk>/rocks/draw/", rock_views.rock_draw, name="rock_draw"),
    path("tanks/<int:tank_pk>/rocks/<int:rock_pk>/", rock_views.rock_edit, name="rock_edit"),
    path("tanks/<int:tank_pk>/deleted/", deleted_views.tank_deleted, name="tank_deleted"),
    path("deleted/", deleted_views.deleted_list, name="deleted_list"),
    path(
        "deleted/<slug:kind>/<int:pk>/restore/",
        deleted_views.deleted_restore,
        name="deleted_restore",
    ),
    *removal_paths(ROCK),
]
