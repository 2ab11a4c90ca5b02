from django.urls import path

from apps.hosting.site import views

urlpatterns = [
    path("site/", views.site_overview, name="site_overview"),
    path("site/keepers/", views.site_keeper, name="site_keeper"),
    path(
        "clubs/<int:club_pk>/members/<int:membership_pk>/reset/",
        views.member_reset,
        name="member_reset",
    ),
]
