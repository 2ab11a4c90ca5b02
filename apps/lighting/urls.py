from django.urls import path

from apps.lighting import rig_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/light/", views.light_change_list, name="light_change_list"),
    path("tanks/<int:tank_pk>/light/new/", views.light_change_new, name="light_change_new"),
    path("light/<int:pk>/edit/", views.light_change_edit, name="light_change_edit"),
    path("light/<int:pk>/remove/", views.light_change_remove, name="light_change_remove"),
    path("light/<int:pk>/restore/", views.light_change_restore, name="light_change_restore"),
    path("fixtures/", rig_views.fixture_list, name="fixture_list"),
    path("fixtures/new/", rig_views.fixture_new, name="fixture_new"),
    path("fixtures/<int:pk>/edit/", rig_views.fixture_edit, name="fixture_edit"),
    path("fixtures/<int:pk>/remove/", rig_views.fixture_remove, name="fixture_remove"),
    path("fixtures/<int:pk>/restore/", rig_views.fixture_restore, name="fixture_restore"),
]
