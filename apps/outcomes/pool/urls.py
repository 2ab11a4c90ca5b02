"""Addresses of this room."""

from django.urls import path

from apps.outcomes.pool import club_views, views

urlpatterns = [
    path("clubs/<int:club_pk>/outcomes/", club_views.club_outcomes, name="club_outcomes"),
    path("tanks/<int:tank_pk>/outcomes/across/", views.pool_detail, name="pool_detail"),
    path("tanks/<int:tank_pk>/outcomes/across/agree/", views.pool_agree, name="pool_agree"),
    path(
        "tanks/<int:tank_pk>/outcomes/across/withdraw/",
        views.pool_withdraw,
        name="pool_withdraw",
    ),
]
