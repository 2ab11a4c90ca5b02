"""Addresses of this room, below a tank's."""

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.api.steps import acclimation_views, trial_views

of_tank = SimpleRouter()
of_tank.register("acclimations", acclimation_views.AcclimationViewSet, basename="api-acclimation")
of_tank.register("trials", trial_views.TrialViewSet, basename="api-trial")

of_plan = SimpleRouter()
of_plan.register("ticks", acclimation_views.TickViewSet, basename="api-tick")

urlpatterns = [
    path("", include(of_tank.urls)),
    path("acclimations/<int:acclimation_pk>/", include(of_plan.urls)),
]
