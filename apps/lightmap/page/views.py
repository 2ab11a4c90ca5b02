"""The light map page, the part of it that another depth, cut or band redraws, and closer looks."""

from django.contrib.auth.decorators import login_required

from apps.common.htmx import render_part
from apps.lightmap.page.box import draw_box
from apps.lightmap.page.next import FEWEST, next_readings
from apps.lightmap.page.query import Asked
from apps.lightmap.page.sheet import light_map_sheet, mapped_light
from apps.lightmap.page.why import why
from apps.lightmap.pins import pins_for
from apps.photics.ground.scene import in_rock
from apps.tanks.access import may_write, readable_tank


@login_required
def light_map(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    asked = Asked.read(request.GET, tank=tank, unit=unit)
    sheet = light_map_sheet(tank, asked, unit=unit, pins=pins_for(tank))
    context = {
        "tank": tank,
        "sheet": sheet,
        "unit": unit,
        "may_open": True,
        "may_write": may_write(request.user, tank),
    }
    return light_map_response(request, "lightmap/page/light_map.html", context)


@login_required
def light_map_why(request, tank_pk):
    """Explain the light at the x, y and depth asked for."""
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    asked = Asked.read(request.GET, tank=tank, unit=unit)
    sheet = mapped_light(tank, asked, unit=unit)
    context = {"tank": tank, "sheet": sheet, "unit": unit}
    if sheet.shown_field:
        point_cm = (sheet.ask_x_cm, sheet.y_cm, sheet.depth_cm)
        rocks = tank.scene_rocks()
        if in_rock(rocks, *point_cm):
            context["in_rock"] = True
        else:
            context["why"] = why(sheet.shown_field, point_cm, sheet.rows, rocks)
    return render_part(
        request, "lightmap/page/light_map_why.html", "lightmap/page/_light_map_why.html", context
    )


@login_required
def light_map_box(request, tank_pk):
    """Show the whole box of water at a slant, turned as asked."""
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    asked = Asked.read(request.GET, tank=tank, unit=unit)
    sheet = mapped_light(tank, asked, unit=unit)
    context = {"tank": tank, "sheet": sheet, "unit": unit}
    if sheet.shown_field:
        context["box"] = draw_box(sheet, pins_for(tank))
        sheet.legend = context["box"].legend
    return render_part(
        request, "lightmap/page/light_map_box.html", "lightmap/page/_light_map_box.html", context
    )


@login_required
def light_map_next(request, tank_pk):
    """List the spots to read next, with what they would gain."""
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    asked = Asked.read(request.GET, tank=tank, unit=unit)
    asked.next_count = asked.next_count or FEWEST
    sheet = mapped_light(tank, asked, unit=unit)
    if sheet.shown_field:
        sheet.next = next_readings(sheet.fitted.field, asked.next_count, pins_for(tank))
    context = {
        "tank": tank,
        "sheet": sheet,
        "unit": unit,
        "may_write": may_write(request.user, tank),
    }
    return render_part(
        request, "lightmap/page/light_map_next.html", "lightmap/page/_light_map_next.html", context
    )


def light_map_response(request, page, context):
    """Render the page, or for htmx the drawings alone, with the address they stand for."""
    response = render_part(request, page, "lightmap/page/_light_map_swap.html", context)
    sheet = context["sheet"]
    if request.htmx and sheet.plan:
        extra = context.get("address_extra", "")
        response["HX-Replace-Url"] = f"{request.path}?{sheet.query}{extra}"
    return response
