"""Addresses of this room."""

from django.urls import path

from apps.outcomes.pool import views

urlpatterns = [
    path("tanks/<int:tank_pk>/outcomes/across/", views.pool_detail, name="pool_detail"),
    path("tanks/<int:tank_pk>/outcomes/across/agree/", views.pool_agree, name="pool_agree"),
    path(
        "tanks/<int:tank_pk>/outcomes/across/withdraw/",
        views.pool_withdraw,
        name="pool_withdraw",
    ),
]
