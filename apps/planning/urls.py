from django.urls import path

from apps.planning import (
    acclimation_views,
    layout_views,
    place_views,
    views,
    what_if_plan_views,
    what_if_views,
)

urlpatterns = [
    path("plans/", views.plan_list, name="plan_list"),
    path("tanks/<int:tank_pk>/plans/", views.tank_plan_list, name="tank_plan_list"),
    path("plans/<int:pk>/remove/", views.plan_remove, name="plan_remove"),
    path("plans/<int:pk>/restore/", views.plan_restore, name="plan_restore"),
    path("plans/<int:pk>/duplicate/", views.plan_duplicate, name="plan_duplicate"),
    path(
        "tanks/<int:tank_pk>/acclimation/",
        acclimation_views.acclimation_list,
        name="acclimation_list",
    ),
    path(
        "tanks/<int:tank_pk>/acclimation/new/",
        acclimation_views.acclimation_tank_new,
        name="acclimation_tank_new",
    ),
    path(
        "corals/<int:coral_pk>/acclimation/",
        acclimation_views.acclimation_of_coral,
        name="acclimation_of_coral",
    ),
    path(
        "corals/<int:coral_pk>/acclimation/new/",
        acclimation_views.acclimation_new,
        name="acclimation_new",
    ),
    path("acclimation/<int:pk>/", acclimation_views.acclimation_detail, name="acclimation_detail"),
    path("acclimation/<int:pk>/edit/", acclimation_views.acclimation_edit, name="acclimation_edit"),
    path(
        "acclimation/<int:pk>/steps/<int:number>/",
        acclimation_views.acclimation_tick,
        name="acclimation_tick",
    ),
    path(
        "acclimation/ticks/<int:tick_pk>/remove/",
        acclimation_views.acclimation_untick,
        name="acclimation_untick",
    ),
    path(
        "acclimation/<int:pk>/remove/",
        acclimation_views.acclimation_remove,
        name="acclimation_remove",
    ),
    path(
        "acclimation/<int:pk>/restore/",
        acclimation_views.acclimation_restore,
        name="acclimation_restore",
    ),
    path("plans/layouts/new/", layout_views.layout_new, name="layout_new"),
    path(
        "tanks/<int:tank_pk>/plans/layouts/new/",
        layout_views.tank_layout_new,
        name="tank_layout_new",
    ),
    path("plans/layouts/<int:pk>/", layout_views.layout_detail, name="layout_detail"),
    path("plans/layouts/<int:pk>/edit/", layout_views.layout_edit, name="layout_edit"),
    path("plans/layouts/<int:pk>/search/", layout_views.layout_search, name="layout_search"),
    path(
        "plans/layouts/<int:pk>/answers/<int:number>/",
        layout_views.layout_answer,
        name="layout_answer",
    ),
    path(
        "plans/layouts/<int:pk>/answers/<int:number>/hang/",
        layout_views.layout_hang,
        name="layout_hang",
    ),
    path("tanks/<int:tank_pk>/place/", place_views.place_coral, name="place_coral"),
    path("tanks/<int:tank_pk>/what-if/", what_if_views.what_if_show, name="what_if"),
    path("tanks/<int:tank_pk>/what-if/save/", what_if_views.what_if_save, name="what_if_save"),
    path("plans/what-if/<int:pk>/", what_if_plan_views.what_if_detail, name="what_if_detail"),
]
