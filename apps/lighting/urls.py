from django.urls import path

from apps.lighting import day_views, mix_views, optic_views, rig_views, views

urlpatterns = [
    path("tanks/<int:tank_pk>/light/", views.light_change_list, name="light_change_list"),
    path("tanks/<int:tank_pk>/light/new/", views.light_change_new, name="light_change_new"),
    path("light/<int:pk>/edit/", views.light_change_edit, name="light_change_edit"),
    path("light/<int:pk>/remove/", views.light_change_remove, name="light_change_remove"),
    path("light/<int:pk>/restore/", views.light_change_restore, name="light_change_restore"),
    path("tanks/<int:tank_pk>/days/", day_views.day_curve_list, name="day_curve_list"),
    path("tanks/<int:tank_pk>/days/new/", day_views.day_curve_new, name="day_curve_new"),
    path("days/<int:pk>/", day_views.day_curve_detail, name="day_curve_detail"),
    path("days/<int:pk>/edit/", day_views.day_curve_edit, name="day_curve_edit"),
    path("days/<int:pk>/copy/", day_views.day_curve_copy, name="day_curve_copy"),
    path("days/<int:pk>/start/", day_views.day_curve_start, name="day_curve_start"),
    path("days/<int:pk>/remove/", day_views.day_curve_remove, name="day_curve_remove"),
    path("days/<int:pk>/restore/", day_views.day_curve_restore, name="day_curve_restore"),
    path("fixtures/", rig_views.fixture_list, name="fixture_list"),
    path("fixtures/new/", rig_views.fixture_new, name="fixture_new"),
    path("fixtures/<int:pk>/", optic_views.fixture_detail, name="fixture_detail"),
    path("fixtures/<int:pk>/optic/", optic_views.fixture_optic, name="fixture_optic"),
    path("fixtures/<int:pk>/optic.ies", optic_views.fixture_optic_file, name="fixture_optic_file"),
    path("fixtures/<int:pk>/mix/", mix_views.fixture_mix, name="fixture_mix"),
    path("fixtures/<int:pk>/edit/", rig_views.fixture_edit, name="fixture_edit"),
    path("fixtures/<int:pk>/remove/", rig_views.fixture_remove, name="fixture_remove"),
    path("fixtures/<int:pk>/restore/", rig_views.fixture_restore, name="fixture_restore"),
]
