"""The light map page, and the part of it that another depth, cut or band redraws."""

from django.contrib.auth.decorators import login_required

from apps.common.htmx import render_part
from apps.surveys.map_asked import Asked
from apps.surveys.map_sheet import light_map_sheet
from apps.surveys.pins import pins_for
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
    return light_map_response(request, "surveys/light_map.html", context)


def light_map_response(request, page, context):
    """Render the page, or for htmx the drawings alone, with the address they stand for."""
    response = render_part(request, page, "surveys/_light_map_swap.html", context)
    sheet = context["sheet"]
    if request.htmx and sheet.plan:
        extra = context.get("address_extra", "")
        response["HX-Replace-Url"] = f"{request.path}?{sheet.query}{extra}"
    return response
