"""Addresses of this room."""

from django.urls import path

from apps.corals.photos import card_views, gallery_views, size_views, views
from apps.corals.removable import PHOTO_COLOUR, SIZE
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/corals/wall/", gallery_views.coral_wall, name="coral_wall"),
    path("colour-card/", card_views.colour_card, name="colour_card"),
    path("tanks/<int:tank_pk>/corals/gallery/", gallery_views.coral_gallery, name="coral_gallery"),
    path("photos/linked/<str:token>/", views.photo_linked, name="photo_linked"),
    path("photos/<uuid:key>/", views.photo_detail, name="photo_detail"),
    *removal_paths(PHOTO_COLOUR),
    path("photos/<uuid:key>/colour/answer/", views.colour_answer, name="colour_answer"),
    path("photos/<uuid:key>/link/new/", views.photo_link_new, name="photo_link_new"),
    path("corals/<int:coral_pk>/sizes/new/", size_views.size_new, name="size_new"),
    path("sizes/<int:pk>/edit/", size_views.size_edit, name="size_edit"),
    *removal_paths(SIZE),
]
