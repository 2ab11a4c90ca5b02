from django.urls import path

from apps.tanks import deleted_views, people_views, rock_views, views
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
    path(
        "tanks/<int:tank_pk>/invitations/new/",
        people_views.invitation_new,
        name="invitation_new",
    ),
    path(
        "tanks/<int:tank_pk>/invitations/link/",
        people_views.invitation_link,
        name="invitation_link",
    ),
    path(
        "tanks/<int:tank_pk>/invitations/<int:invitation_pk>/cancel/",
        people_views.invitation_cancel,
        name="invitation_cancel",
    ),
    path(
        "invitations/<int:invitation_pk>/", people_views.invitation_answer, name="invitation_answer"
    ),
    # A token of 43 signs never looks like a number: no clash with the line above.
    path("invitations/<str:token>/", people_views.invitation_open, name="invitation_open"),
    path(
        "tanks/<int:tank_pk>/people/<int:membership_pk>/",
        people_views.membership_edit,
        name="membership_edit",
    ),
    path(
        "tanks/<int:tank_pk>/people/<int:membership_pk>/remove/",
        people_views.membership_remove,
        name="membership_remove",
    ),
    path("tanks/<int:tank_pk>/leave/", people_views.membership_leave, name="membership_leave"),
]
