from django.urls import path

from apps.lightmap.export import views

urlpatterns = [
    path("tanks/<int:tank_pk>/export/light.csv", views.export_light_csv, name="export_light_csv"),
    path(
        "tanks/<int:tank_pk>/export/light.nc", views.export_light_netcdf, name="export_light_netcdf"
    ),
    path("tanks/<int:tank_pk>/export/map.pdf", views.export_map_pdf, name="export_map_pdf"),
]
