"""A tank's light now, as files for other programs."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from apps.lightmap.export.grid_csv import write_csv
from apps.lightmap.export.light_grid import LightGrid, light_grid
from apps.lightmap.export.netcdf import write_netcdf
from apps.tanks.access import readable_tank
from apps.tanks.models import Tank


@login_required
@require_GET
def export_light_csv(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    return _file(request, tank, "csv", "text/csv; charset=utf-8", write_csv)


@login_required
@require_GET
def export_light_netcdf(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)

    def write(grid: LightGrid) -> bytes:
        return write_netcdf(grid, title=f"Light of {tank.name}", made_at=grid.moment)

    return _file(request, tank, "nc", "application/x-netcdf", write)


def _file(
    request: HttpRequest,
    tank: Tank,
    ending: str,
    content_type: str,
    write: Callable[[LightGrid], str | bytes],
) -> HttpResponse:
    grid = light_grid(tank, timezone.now())
    if grid is None:
        messages.info(request, "Nothing is known of this tank’s light yet: take readings first.")
        return redirect("light_map", tank.pk)
    name = f"{slugify(tank.name) or 'tank'}-light.{ending}"
    return HttpResponse(
        write(grid),
        content_type=content_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
