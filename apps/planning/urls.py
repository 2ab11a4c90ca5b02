from django.urls import path

from apps.planning import layout_views, views

urlpatterns = [
    path("plans/", views.plan_list, name="plan_list"),
    path("tanks/<int:tank_pk>/plans/", views.tank_plan_list, name="tank_plan_list"),
    path("plans/<int:pk>/remove/", views.plan_remove, name="plan_remove"),
    path("plans/<int:pk>/restore/", views.plan_restore, name="plan_restore"),
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
        "plans/layouts/<int:pk>/duplicate/",
        layout_views.layout_duplicate,
        name="layout_duplicate",
    ),
    path(
        "plans/layouts/<int:pk>/answers/<int:number>/",
        layout_views.layout_answer,
        name="layout_answer",
    ),
]
