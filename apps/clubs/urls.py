"""Addresses of this app."""

from django.urls import path

from apps.clubs import link_views, people_views, views

urlpatterns = [
    path("clubs/", views.club_list, name="club_list"),
    path("clubs/new/", views.club_new, name="club_new"),
    path("clubs/join/<str:token>/", link_views.club_join, name="club_join"),
    path("clubs/<int:club_pk>/", views.club_detail, name="club_detail"),
    path("clubs/<int:club_pk>/edit/", views.club_edit, name="club_edit"),
    path("clubs/<int:club_pk>/invite/", link_views.club_link_list, name="club_link_list"),
    path("clubs/<int:club_pk>/invite/new/", link_views.club_link_new, name="club_link_new"),
    path(
        "clubs/<int:club_pk>/invite/<int:link_pk>/revoke/",
        link_views.club_link_revoke,
        name="club_link_revoke",
    ),
    path("clubs/<int:club_pk>/leave/", people_views.club_leave, name="club_leave"),
    path(
        "clubs/<int:club_pk>/members/<int:membership_pk>/",
        people_views.club_member_edit,
        name="club_member_edit",
    ),
    path(
        "clubs/<int:club_pk>/members/<int:membership_pk>/remove/",
        people_views.club_member_remove,
        name="club_member_remove",
    ),
    path(
        "clubs/<int:club_pk>/members/<int:membership_pk>/block/",
        people_views.club_member_block,
        name="club_member_block",
    ),
    path(
        "clubs/<int:club_pk>/blocked/<int:block_pk>/lift/",
        people_views.club_unblock,
        name="club_unblock",
    ),
]
