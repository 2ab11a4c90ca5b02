"""Two lights side by side: dates, tanks, survey and forecast, plan and what was measured."""

from itertools import groupby

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from apps.common.reading_once import reading_once
from apps.common.units import format_length
from apps.lightmap.compare.comparing import compare
from apps.lightmap.compare.lights import comparables
from apps.lightmap.difference.dated_light import DATES, SURVEYS, Comparable, chosen
from apps.lightmap.page.query import MapQuery
from apps.tanks.access import readable_tank
from apps.tanks.models import Tank

Context = dict[str, object]


@login_required
@reading_once()
def light_compare(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank, unit = readable_tank(request.user, tank_pk), request.user.units
    query = MapQuery.read(request.GET, tank=tank, unit=unit)
    choices, problems = comparables(request.user, tank), list(query.problems)
    context: Context = {
        "tank": tank,
        "unit": unit,
        "groups": [
            (name, list(of_group)) for name, of_group in groupby(choices, lambda c: c.group)
        ],
        "problems": problems,
        "today": timezone.localdate(timezone=tank.zone),
    }
    pair = [wished(request, side, choices, tank) for side in ("a", "b")]
    usual = usual_pair(choices)
    first, second = (wish or fallback for wish, fallback in zip(pair, usual, strict=True))
    if first is None or second is None:
        return render(request, "lightmap/compare/compare.html", context)
    context |= {"a": first, "b": second}
    lights = [first.make(), second.make()]
    for one, light in zip((first, second), lights, strict=True):
        if light is None:
            problems.append(f"{one.name}: no light is known of it.")
    if lights[0] is not None and lights[1] is not None:
        shown = compare(lights[0], lights[1], depth_cm=query.depth_cm, unit=unit)
        context |= {"shown": shown, "depth_text": format_length(shown.depth_cm, unit)}
        context |= shown_part(request.GET.get("show", ""), with_change=shown.change is not None)
    return render(request, "lightmap/compare/compare.html", context)


def shown_part(text: str, *, with_change: bool) -> Context:
    """Return which drawing a phone shows, by an address's text, and which there are."""
    parts = [("change", "Difference")] * with_change + [("first", "First"), ("second", "Second")]
    keys = [key for key, _ in parts]
    return {"parts": parts, "part": text if text in keys else keys[0]}


def wished(
    request: HttpRequest, side: str, choices: list[Comparable], tank: Tank
) -> Comparable | None:
    """Return the Comparable that an address names on a side, a typed date before the list."""
    day = request.GET.get(f"{side}_day", "").strip()
    return chosen(choices, f"day-{day}" if day else request.GET.get(side, ""), tank)


def usual_pair(choices: list[Comparable]) -> tuple[Comparable | None, Comparable | None]:
    """Return the two newest surveys, else the last survey or change and today."""
    surveys = [one for one in choices if one.group == SURVEYS]
    days = [one for one in choices if one.group == DATES]
    if len(surveys) > 1:
        return surveys[1], surveys[0]
    earlier = [*surveys, *days[1:]]
    return (earlier[0], days[0]) if earlier else (None, None)
