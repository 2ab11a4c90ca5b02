from django.urls import path

from apps.transfer.tables import views
from apps.transfer.tables.jobs import PACKAGE, WORKBOOK
from apps.transfer.tables.tables import TABLES

AT = "tanks/<int:tank_pk>/export/"

NAMES = {WORKBOOK: "workbook", PACKAGE: "package"} | {
    f"{table.name}.csv": table.name for table in TABLES if table.name != "light"
}
urlpatterns = [
    path(AT, views.tank_exports, name="tank_exports"),
    *(
        path(f"{AT}{file}", views.export_file, {"name": file}, name=f"export_{name}")
        for file, name in NAMES.items()
    ),
]
