"""Addresses of this room: links of plans for programs."""

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.sharing.plans.link_api import PlanLinkViewSet
from apps.sharing.plans.taking_api import TakenPlanViewSet

of_plan = SimpleRouter()
of_plan.register("share-links", PlanLinkViewSet, basename="api-share-link-plan")

urlpatterns = [
    path("api/v1/plans/<int:plan_pk>/", include(of_plan.urls)),
    path("api/v1/taken-plans/", TakenPlanViewSet.as_view({"post": "create"}), name="api-plan-take"),
]
