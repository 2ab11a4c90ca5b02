"""The light map page, the part of it that another depth, cut or band redraws, and closer looks."""

from collections.abc import Callable
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from apps.common.htmx import go_to, render_part
from apps.common.reading_once import reading_once
from apps.lightmap.page.drawn_page import beside_earlier, lit_planes, with_next
from apps.lightmap.page.map_page import LitPage, map_page
from apps.lightmap.page.next import FEWEST
from apps.lightmap.page.picture import as_png, file_name, picture_of
from apps.lightmap.page.point import coral_address, point_context, reason
from apps.lightmap.page.query import MapQuery
from apps.lightmap.page.why import why
from apps.lightmap.pins import pins_for
from apps.photics.ground.scene import out_of_water
from apps.surveys.models import Survey
from apps.surveys.plan.patterns import Place
from apps.surveys.plan.points import TooManyPoints, add_points
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Tank

Context = dict[str, object]
# What another way to look at the water swaps; another depth swaps the drawing in it.
FIGURE = "map-figure"


@login_required
@kept_page(readable_tank)
@reading_once()
def light_map(request: HttpRequest, tank_pk: int) -> HttpResponse:
    context = map_context(request, tank_pk, planes_context)
    return light_map_response(request, "lightmap/page/light_map.html", context)


@login_required
@kept_page(readable_tank)
@reading_once()
def light_map_why(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Explain the light at the x, y and depth of the query."""
    context = map_context(request, tank_pk, why_context)
    return render_part(
        request, "lightmap/page/light_map_why.html", "lightmap/page/_light_map_why.html", context
    )


@login_required
@require_POST
def light_map_read(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Put a point on the plan of today's survey and open its pad; else begin a survey there."""
    tank = writable_tank(request.user, tank_pk)
    query = MapQuery.read(request.POST, tank=tank, unit=request.user.units)
    if query.x_cm is None or query.y_cm is None or query.depth_cm is None:
        messages.error(request, " ".join(query.problems) or "Which point? Tap the map first.")
        return go_to(request, reverse("light_map", args=[tank.pk]))
    place = Place(query.x_cm, query.y_cm, query.depth_cm)
    survey = survey_of_today(tank)
    if survey is None:
        where = urlencode({name: f"{value:.1f}" for name, value in place.numbers().items()})
        return go_to(request, f"{reverse('survey_new', args=[tank.pk])}?{where}")
    try:
        add_points(survey=survey, places=[place])
    except TooManyPoints as problem:
        messages.error(request, str(problem))
    return go_to(request, reverse("survey_enter", args=[survey.pk]))


def survey_of_today(tank: Tank) -> Survey | None:
    """Return the newest survey of all light that was taken today, by the tank's clock."""
    newest = tank.surveys.present().filter(channel="").newest_first().first()
    return newest if newest and newest.day() == tank.today() else None


@login_required
@kept_page(readable_tank)
@reading_once()
def light_map_next(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """List the points to read next, with what they would gain."""
    context = map_context(request, tank_pk, next_context)
    return render_part(
        request, "lightmap/page/light_map_next.html", "lightmap/page/_light_map_next.html", context
    )


@login_required
@kept_page(readable_tank)
@reading_once()
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
    page = beside_earlier(page) if isinstance(page, LitPage) else page
    context = {
        "tank": tank,
        "page": page,
        "unit": unit,
        "may_open": True,
        "may_write": may_write(request.user, tank),
    }
    return context | contents(page) if isinstance(page, LitPage) else context


def planes_context(page: LitPage) -> Context:
    return {"page": lit_planes(page, pins_for(page.tank))}


def why_context(page: LitPage) -> Context:
    point_cm, rocks = page.ask_point_cm, page.tank.scene_rocks()
    if out_of_water(page.tank.scene(), rocks, *point_cm):
        return {"in_rock": True}
    explained = why(page.light.field, point_cm, page.rows, rocks)
    return {
        "why": explained,
        "reason": reason(page, point_cm, extrapolated=explained.extrapolated),
        "coral_url": coral_address(page, point_cm),
    }


def next_context(page: LitPage) -> Context:
    return {"page": with_next(page, page.query.next_count or FEWEST, pins_for(page.tank))}


def light_map_response(request: HttpRequest, template: str, context: Context) -> HttpResponse:
    """Render the page, or for htmx the drawings alone, with the address they stand for."""
    page = context["page"]
    if isinstance(page, LitPage):
        context = {**context, **point_context(page)}
    whole = request.htmx and request.htmx.target == FIGURE
    part = "lightmap/page/_light_map_figure.html" if whole else "lightmap/page/_light_map_swap.html"
    response = render_part(request, template, part, context)
    if request.htmx and isinstance(page, LitPage) and page.planes:
        extra = context.get("address_extra", "")
        response["HX-Replace-Url"] = f"{request.path}?{page.address}{extra}"
    return response
