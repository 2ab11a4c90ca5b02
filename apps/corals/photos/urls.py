"""Addresses of this room."""

from django.urls import path

from apps.corals.photos import gallery_views, size_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/corals/wall/", gallery_views.coral_wall, name="coral_wall"),
    path("photos/linked/<str:token>/", views.photo_linked, name="photo_linked"),
    path("photos/<uuid:key>/", views.photo_detail, name="photo_detail"),
    path("photos/<uuid:key>/colour/remove/", views.colour_remove, name="colour_remove"),
    path("photos/<uuid:key>/colour/restore/", views.colour_restore, name="colour_restore"),
    path("photos/<uuid:key>/colour/answer/", views.colour_answer, name="colour_answer"),
    path("photos/<uuid:key>/link/new/", views.photo_link_new, name="photo_link_new"),
    path("corals/<int:coral_pk>/sizes/new/", size_views.size_new, name="size_new"),
    path("sizes/<int:pk>/edit/", size_views.size_edit, name="size_edit"),
    path("sizes/<int:pk>/remove/", size_views.size_remove, name="size_remove"),
    path("sizes/<int:pk>/restore/", size_views.size_restore, name="size_restore"),
]
