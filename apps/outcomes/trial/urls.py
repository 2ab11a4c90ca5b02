"""Addresses of this room."""

from django.urls import path

from apps.outcomes.removable import TRIAL
from apps.outcomes.trial import views
from apps.tanks.deleted_views import removal_paths

urlpatterns = [
    path("tanks/<int:tank_pk>/trials/", views.trial_list, name="trial_list"),
    path("tanks/<int:tank_pk>/trials/new/", views.trial_new, name="trial_new"),
    path("trials/<int:pk>/", views.trial_detail, name="trial_detail"),
    path("trials/<int:pk>/resume/", views.trial_resume, name="trial_resume"),
    path("trials/<int:pk>/stop/", views.trial_stop, name="trial_stop"),
    path("trials/<int:pk>/unstop/", views.trial_unstop, name="trial_unstop"),
    *removal_paths(TRIAL),
]
