"""Addresses of this room, below a tank's."""

from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.api.history.history_views import HistoryImportViewSet
from apps.api.history.water_views import WaterTableViewSet

of_tank = SimpleRouter()
of_tank.register("history-imports", HistoryImportViewSet, basename="api-history-import")
LOOKED = {"get": "looked"}

urlpatterns = [
    path(
        "history-imports/look/<uuid:key>/",
        HistoryImportViewSet.as_view(LOOKED),
        name="api-history-import-looked",
    ),
    path("water-events/table/", WaterTableViewSet.as_view({"post": "add"}), name="api-water-table"),
    path(
        "water-events/table/look/",
        WaterTableViewSet.as_view({"post": "look"}),
        name="api-water-table-look",
    ),
    path(
        "water-events/table/look/<uuid:key>/",
        WaterTableViewSet.as_view(LOOKED),
        name="api-water-table-looked",
    ),
    path("", include(of_tank.urls)),
]
