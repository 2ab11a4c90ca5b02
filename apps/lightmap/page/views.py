"""The light map page, the part of it that another depth, cut or band redraws, and closer looks."""

from collections.abc import Callable

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from apps.common.htmx import render_part
from apps.common.reading_once import reading_once
from apps.lightmap.page.box import draw_box
from apps.lightmap.page.map_page import LitPage, map_page, with_next, with_planes
from apps.lightmap.page.next import FEWEST
from apps.lightmap.page.picture import as_png, file_name, picture_of
from apps.lightmap.page.query import MapQuery
from apps.lightmap.page.why import why
from apps.lightmap.pins import pins_for
from apps.photics.ground.scene import out_of_water
from apps.tanks.access import may_write, readable_tank

Context = dict[str, object]


@login_required
@reading_once()
def light_map(request: HttpRequest, tank_pk: int) -> HttpResponse:
    context = map_context(request, tank_pk, planes_context)
    return light_map_response(request, "lightmap/page/light_map.html", context)


@login_required
def light_map_why(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Explain the light at the x, y and depth of the query."""
    context = map_context(request, tank_pk, why_context)
    return render_part(
        request, "lightmap/page/light_map_why.html", "lightmap/page/_light_map_why.html", context
    )


@login_required
def light_map_box(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Show the whole box of water at a slant, turned as the query says."""
    context = map_context(request, tank_pk, box_context)
    return render_part(
        request, "lightmap/page/light_map_box.html", "lightmap/page/_light_map_box.html", context
    )


@login_required
def light_map_next(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """List the points to read next, with what they would gain."""
    context = map_context(request, tank_pk, next_context)
    return render_part(
        request, "lightmap/page/light_map_next.html", "lightmap/page/_light_map_next.html", context
    )


@login_required
def light_map_picture(request: HttpRequest, tank_pk: int, ending: str) -> HttpResponse:
    """Hand out the map that is shown as a file, png or svg."""
    page = map_context(request, tank_pk, planes_context)["page"]
    if not isinstance(page, LitPage):
        return redirect("light_map", tank_pk)  # which says why there is none
    drawn = picture_of(page)
    kind, content = ("image/png", as_png(drawn)) if ending == "png" else ("image/svg+xml", drawn)
    name = f'attachment; filename="{file_name(page, ending)}"'
    return HttpResponse(content, content_type=kind, headers={"Content-Disposition": name})


def map_context(
    request: HttpRequest, tank_pk: int, contents: Callable[[LitPage], Context]
) -> Context:
    """Return the context of a view of the map: all have a tank, a query and its light in common.

    `contents` adds what that view shows of a page whose light is known.
    """
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    query = MapQuery.read(request.GET, tank=tank, unit=unit)
    page = map_page(tank, query, unit=unit)
    context = {
        "tank": tank,
        "page": page,
        "unit": unit,
        "may_open": True,
        "may_write": may_write(request.user, tank),
    }
    return context | contents(page) if isinstance(page, LitPage) else context


def planes_context(page: LitPage) -> Context:
    return {"page": with_planes(page, pins_for(page.tank))}


def why_context(page: LitPage) -> Context:
    point_cm = (page.ask_x_cm, page.view.y_cm, page.view.depth_cm)
    rocks = page.tank.scene_rocks()
    if out_of_water(page.tank.scene(), rocks, *point_cm):
        return {"in_rock": True}
    return {"why": why(page.light.field, point_cm, page.rows, rocks)}


def box_context(page: LitPage) -> Context:
    return {"box": draw_box(page, pins_for(page.tank))}


def next_context(page: LitPage) -> Context:
    return {"page": with_next(page, page.query.next_count or FEWEST, pins_for(page.tank))}


def light_map_response(request: HttpRequest, template: str, context: Context) -> HttpResponse:
    """Render the page, or for htmx the drawings alone, with the address they stand for."""
    response = render_part(request, template, "lightmap/page/_light_map_swap.html", context)
    page = context["page"]
    if request.htmx and isinstance(page, LitPage) and page.planes:
        extra = context.get("address_extra", "")
        response["HX-Replace-Url"] = f"{request.path}?{page.address}{extra}"
    return response
