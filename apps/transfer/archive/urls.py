from django.urls import include, path
from rest_framework.routers import SimpleRouter

from apps.transfer.archive import views, zip_api

of_keeper = SimpleRouter()
of_keeper.register("imports", zip_api.ImportViewSet, basename="api-import")
of_keeper.register("exports", zip_api.ExportViewSet, basename="api-export")

urlpatterns = [
    path("api/v1/", include(of_keeper.urls)),
    path("tanks/<int:pk>/export.zip", views.tank_export, name="tank_export"),
    path("settings/account.zip", views.account_export, name="account_export"),
    path("bring-in/", views.tank_import, name="tank_import"),
    path("bring-in/<uuid:key>/", views.tank_import_preview, name="tank_import_preview"),
]
