"""A tank's light now, as files for other programs and for paper."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from apps.common.reading_once import reading_once
from apps.lightmap.export.grid_csv import write_csv
from apps.lightmap.export.light_grid import LightGrid, light_grid
from apps.lightmap.export.netcdf import write_netcdf
from apps.lightmap.export.paper import A4, LETTER
from apps.lightmap.export.pdf import write_pdf
from apps.lightmap.export.sheet import sheet_of
from apps.lightmap.page.map_page import LitPage
from apps.lightmap.page.picture import file_name
from apps.lightmap.page.views import map_context, planes_context
from apps.photics.ground.lengths import INCH
from apps.tanks.access import readable_tank
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Tank

# Where lengths are in inches, printers hold Letter.
USUAL_PAPER = {INCH: LETTER}


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


@login_required
@require_GET
@kept_page(readable_tank)
@reading_once()
def export_map_pdf(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Hand out the map that is shown as one sheet; `paper` is a4 or letter."""
    page = map_context(request, tank_pk, planes_context)["page"]
    if not isinstance(page, LitPage):
        return redirect("light_map", tank_pk)  # which says why there is none
    paper = request.GET.get("paper")
    if paper not in (A4, LETTER):
        paper = USUAL_PAPER.get(page.unit, A4)
    name = f'attachment; filename="{file_name(page, "pdf")}"'
    return HttpResponse(
        write_pdf(sheet_of(page), paper=paper),
        content_type="application/pdf",
        headers={"Content-Disposition": name},
    )


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
