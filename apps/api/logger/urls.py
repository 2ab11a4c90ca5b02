"""Addresses of this room, below a tank's."""

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.api.logger import views

of_tank = SimpleRouter()
of_tank.register("logged-series", views.LoggedSeriesViewSet, basename="api-logged-series")

urlpatterns = [path("", include(of_tank.urls))]
