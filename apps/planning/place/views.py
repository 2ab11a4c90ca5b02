"""Place a coral: where in this tank it would be in its band."""

from collections.abc import Iterable, Mapping
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Band, Coral, usual_band
from apps.planning.acclimation.acclimated_light import acclimated_par
from apps.planning.place.forms import PlaceForm
from apps.planning.place.place import Suggestion, find_places
from apps.planning.what_if.live_light import LiveLight, live_light
from apps.tanks.access import may_write, readable_tank
from apps.tanks.kept_pages.pages import kept_page
from apps.tanks.models import Tank


@login_required
@kept_page(readable_tank)
def place_coral(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Show the form, and the places where its band would be met."""
    tank = readable_tank(request.user, tank_pk)
    live, unit = live_light(tank, timezone.now()), request.user.units
    context: dict[str, object] = {"tank": tank, "may_write": may_write(request.user, tank)}
    if live.serving is None:
        return render(request, "planning/place/place_none.html", context)
    corals = Coral.objects.present().living().filter(tank=tank).prefetch_related("spots")
    fields = filled_fields(request.GET, corals, live)
    form = PlaceForm(fields, corals=corals, full_hours=live.full_hours, tank=tank, unit=unit)
    context |= {"form": form, "unit": unit, "bands": usual_bands(live),
                "full_hours": live.full_hours, "not_measured": live.not_measured}  # fmt: skip
    if not form.is_valid():
        return render(request, "planning/place/place_coral.html", context, status=422)
    wish = form.cleaned_data
    answer = find_places(
        live,
        (wish["band_low_umol"], wish["band_high_umol"]),
        from_umol=wish["from_umol"],
        deepest_cm=wish["deepest_cm"],
        besides=wish["coral"],
        unit=unit,
    )
    context |= {"answer": answer, "coral": wish["coral"], "band": wish}
    if answer:
        context["placed"] = [(s, place_url(tank, wish["coral"], s)) for s in answer.suggestions]
    return render(request, "planning/place/place_coral.html", context)


def filled_fields(
    params: Mapping[str, str], corals: Iterable[Coral], live: LiveLight
) -> dict[str, str]:
    """Return the fields of an address, filled up with what is known of the coral it names.

    What was filled in for another coral and left so is filled in anew: `filled_for` names that one.
    """
    fields = {name: params.get(name, "") for name in params}
    coral, before = (
        next((c for c in corals if str(c.pk) == fields.get(name)), None)
        for name in ("coral", "filled_for")
    )
    if "filled_for" in fields and coral != before:
        known = known_of(before, live)
        fields = {name: text for name, text in fields.items() if known.get(name) != text}
    known = known_of(coral, live)
    if not fields.get("band_low_umol") and not fields.get("band_high_umol"):
        fields |= {name: known[name] for name in ("band_low_umol", "band_high_umol")}
    return {"from_umol": known["from_umol"]} | fields


def known_of(coral: Coral | None, live: LiveLight) -> dict[str, str]:
    """Return the form's texts of the band `coral` wants (None: any SPS) and the PAR it knows."""
    band = coral.band(live.full_hours) if coral else usual_band(Coral.Group.SPS, live.full_hours)
    used = None
    if coral:
        used = acclimated_par([coral], live.light, live.now, live.tank.zone).get(coral.pk)
    return {
        "band_low_umol": f"{band.low_umol:g}",
        "band_high_umol": f"{band.high_umol:g}",
        "from_umol": "" if used is None else f"{used:.0f}",
    }


def usual_bands(live: LiveLight) -> list[tuple[str, Band]]:
    """Return the usual Band of each group in the hours of a tank's day."""
    return [(label, usual_band(group, live.full_hours)) for group, label in Coral.Group.choices]


def place_url(tank: Tank, coral: Coral | None, place: Suggestion) -> str:
    """Return where a place is taken over into a spot, filled in."""
    query = urlencode(
        {name: f"{getattr(place, name):.1f}" for name in ("x_cm", "y_cm", "depth_cm")}
    )
    name, pk = ("spot_new", coral.pk) if coral else ("coral_new", tank.pk)
    return f"{reverse(name, args=[pk])}?{query}"
