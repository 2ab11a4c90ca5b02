"""The Export page of a tank and its files for other programs."""

from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from apps.common.reading_once import reading_once
from apps.lightmap.export.light_grid import point_count
from apps.lightmap.lightmap import tank_light
from apps.tanks.access import readable_tank
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Tank
from apps.transfer.tables.jobs import (
    file_name,
    is_large,
    put_down_tables,
    written,
)
from apps.transfer.tables.tables import TABLES

TYPES = {
    "csv": "text/csv; charset=utf-8",
    "zip": "application/zip",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


@dataclass(frozen=True)
class FileLine:
    """One file of the Export page, and how many points or entries it holds."""

    title: str
    kind: str
    address: str
    count: int
    what: str


@login_required
@kept_page(readable_tank)
@require_GET
@reading_once()
def tank_exports(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    context = {
        "tank": tank,
        "is_owner": tank.owner_id == request.user.pk,
        "light_files": light_files(tank),
        "table_files": table_files(tank),
    }
    return render(request, "transfer/tables/tank_exports.html", context)


def light_files(tank: Tank) -> list[FileLine]:
    """Return the files of the light map; none where nothing is known of the light.

    No file is made to be listed: that takes a second for a long tank.
    """
    if not tank_light(tank).has_light(timezone.now()):
        return []
    files = (
        ("Grid of points", "CSV", "export_light_csv"),
        ("Grid, CF conventions", "NetCDF", "export_light_netcdf"),
    )
    count = point_count(tank)
    return [FileLine(title, kind, _at(name, tank), count, "point") for title, kind, name in files]


def table_files(tank: Tank) -> list[FileLine]:
    return [
        FileLine(t.title, "CSV", _at(f"export_{t.name}", tank), t.count(tank), "line")
        for t in TABLES
        if t.name != "light"
    ]


def _at(name: str, tank: Tank) -> str:
    return reverse(name, args=[tank.pk])


@login_required
@require_GET
def export_file(request: HttpRequest, tank_pk: int, name: str) -> HttpResponse:
    """Hand a file over, or lead to where it will be."""
    tank = readable_tank(request.user, tank_pk)
    if is_large(name, tank):
        return redirect("job_page", put_down_tables(name, tank=tank, by=request.user).key)
    return HttpResponse(
        written(name, tank),
        content_type=TYPES[name.rpartition(".")[2]],
        headers={"Content-Disposition": f'attachment; filename="{file_name(name, tank)}"'},
    )
