from django.urls import path

from apps.transfer.tables import views
from apps.transfer.tables.tables import TABLES

AT = "tanks/<int:tank_pk>/export/"

urlpatterns = [
    path(AT, views.tank_exports, name="tank_exports"),
    path(f"{AT}tables.xlsx", views.export_workbook, name="export_workbook"),
    path(f"{AT}tables.zip", views.export_package, name="export_package"),
    *(
        path(
            f"{AT}{table.name}.csv",
            views.export_table,
            {"table": table.name},
            name=f"export_{table.name}",
        )
        for table in TABLES
        if table.name != "light"
    ),
]
