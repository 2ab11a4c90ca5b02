from django.urls import path

from apps.sharing import open_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/sharing/", views.share_link_list, name="share_link_list"),
    path("tanks/<int:tank_pk>/sharing/new/", views.share_link_new, name="share_link_new"),
    path("sharing/<int:link_pk>/revoke/", views.share_link_revoke, name="share_link_revoke"),
    path("s/<str:token>/", open_views.shared_map, name="shared_map"),
    path("s/<str:token>/photos/<uuid:key>/", open_views.shared_photo, name="shared_photo"),
    path(
        "s/<str:token>/photos/<uuid:key>/small/",
        open_views.shared_photo,
        {"size": "thumbnail"},
        name="shared_photo_small",
    ),
]
