"""Addresses of this room."""

from django.urls import path

from apps.tanks.people import views

urlpatterns = [
    path(
        "tanks/<int:tank_pk>/invitations/new/",
        views.invitation_new,
        name="invitation_new",
    ),
    path("tanks/<int:tank_pk>/hand-over/", views.tank_hand_over, name="tank_hand_over"),
    path(
        "tanks/<int:tank_pk>/invitations/link/",
        views.invitation_link,
        name="invitation_link",
    ),
    path(
        "tanks/<int:tank_pk>/invitations/<int:invitation_pk>/cancel/",
        views.invitation_cancel,
        name="invitation_cancel",
    ),
    path("invitations/<int:invitation_pk>/", views.invitation_answer, name="invitation_answer"),
    # A token of 43 signs never looks like a number: no clash with the line above.
    path("invitations/<str:token>/", views.invitation_open, name="invitation_open"),
    path(
        "tanks/<int:tank_pk>/people/<int:membership_pk>/",
        views.membership_edit,
        name="membership_edit",
    ),
    path(
        "tanks/<int:tank_pk>/people/<int:membership_pk>/remove/",
        views.membership_remove,
        name="membership_remove",
    ),
    path("tanks/<int:tank_pk>/leave/", views.membership_leave, name="membership_leave"),
]
