"""A tank's light now, as files for other programs and for paper."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET

from apps.common.reading_once import reading_once
from apps.later.files import put_down_file
from apps.lightmap.export.files import (
    CSV,
    NETCDF,
    UNKNOWN,
    WRITE,
    light_file_name,
    written_light,
)
from apps.lightmap.export.light_grid import takes_long
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
    return _file(request, tank, CSV, "text/csv; charset=utf-8")


@login_required
@require_GET
def export_light_netcdf(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    return _file(request, tank, NETCDF, "application/x-netcdf")


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


def _file(request: HttpRequest, tank: Tank, ending: str, content_type: str) -> HttpResponse:
    """Hand the light over as a file, or lead to where it will be."""
    if takes_long(tank):
        arguments = {"tank_pk": tank.pk, "ending": ending}
        job = put_down_file(WRITE, keeper=request.user, arguments=arguments)
        return redirect("job_page", job.key)
    content = written_light(tank, ending)
    if content is None:
        messages.info(request, UNKNOWN)
        return redirect("light_map", tank.pk)
    name = light_file_name(tank, ending)
    return HttpResponse(
        content,
        content_type=content_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
