"""Addresses of this room."""

from django.urls import path

from apps.planning.layout import views

urlpatterns = [
    path("plans/layouts/new/", views.layout_new, name="layout_new"),
    path(
        "tanks/<int:tank_pk>/plans/layouts/new/",
        views.tank_layout_new,
        name="tank_layout_new",
    ),
    path("plans/layouts/<int:pk>/", views.layout_detail, name="layout_detail"),
    path("plans/layouts/<int:pk>/edit/", views.layout_edit, name="layout_edit"),
    path("plans/layouts/<int:pk>/search/", views.layout_search, name="layout_search"),
    path("plans/layouts/<int:pk>/sent/", views.layout_sent, name="layout_sent"),
    path(
        "plans/layouts/<int:pk>/answers/<int:number>/",
        views.layout_answer,
        name="layout_answer",
    ),
    path(
        "plans/layouts/<int:pk>/answers/<int:number>/hang/",
        views.layout_hang,
        name="layout_hang",
    ),
]
