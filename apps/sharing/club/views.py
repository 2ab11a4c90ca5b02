"""A tank shown to a club, and all of them side by side."""

from dataclasses import replace

from django import forms
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.clubs.access import readable_club
from apps.common.reading_once import reading_once
from apps.common.units import LengthField, format_length
from apps.lightmap.page.drawn_page import with_planes
from apps.lightmap.page.map_page import map_page
from apps.lightmap.page.query import MapQuery
from apps.lightmap.page.views import light_map_response
from apps.photics import limits
from apps.sharing.club.reading import shown_pins, shown_tank
from apps.sharing.club.side_by_side import side_by_side
from apps.tanks.models import ShownTank

# Each takes a fit of its own: more on one page would let its reader wait.
MAPS_A_PAGE = 6


class DepthForm(forms.Form):
    """The depth at which all tanks are shown [cm]; blank for the usual one."""

    def __init__(self, *args: object, unit: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["depth"] = LengthField(
            unit=unit, label="Depth", low_cm=0, high_cm=limits.TANK_DEPTH_MAX_CM, required=False
        )


@login_required
@require_GET
@reading_once()
def club_tank(request: HttpRequest, club_pk: int, tank_pk: int) -> HttpResponse:
    """Show the light map of a tank, and its corals if its owner chose so."""
    showing = shown_tank(request.user, club_pk, tank_pk)
    tank, unit = showing.tank, request.user.units
    query = MapQuery.read(request.GET, tank=tank, unit=unit)
    # Where to read next is the keepers' work.
    page = map_page(tank, replace(query, next_count=None), unit=unit)
    context: dict[str, object] = {
        "tank": tank,
        "club": showing.club,
        "showing": showing,
        "page": with_planes(page, shown_pins(showing)),
        "unit": unit,
        "may_open": False,
        "may_write": False,
    }
    return light_map_response(request, "sharing/club/club_tank.html", context)


@login_required
@require_GET
@reading_once()
def club_maps(request: HttpRequest, club_pk: int) -> HttpResponse:
    """Show the light of a club's tanks today, side by side."""
    club, unit = readable_club(request.user, club_pk), request.user.units
    form = DepthForm(request.GET if "depth" in request.GET else None, unit=unit)
    depth_cm = form.cleaned_data["depth"] if form.is_valid() else None
    pages = Paginator(ShownTank.objects.seen_by(request.user, club), MAPS_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    shown = side_by_side(list(page), depth_cm=depth_cm, unit=unit)
    if not form.errors:
        form = DepthForm(initial={"depth": shown.depth_cm}, unit=unit)
    context = {"club": club, "page": page, "shown": shown, "form": form, "unit": unit}
    context["query"] = f"depth={format_length(depth_cm, unit)}" if depth_cm is not None else ""
    status = 422 if form.errors else 200
    return render(request, "sharing/club/club_maps.html", context, status=status)
