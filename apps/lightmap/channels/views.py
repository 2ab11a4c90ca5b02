"""The map of any mix of channels, from surveys of one channel each."""

from collections.abc import Mapping, Sequence

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from apps.common.numbers import UnreadableNumber, parse_number
from apps.common.units import format_length
from apps.drawing.level import draw_level, level_points
from apps.lightmap.channels.channels import (
    ChannelPart,
    MixField,
    SumCheck,
    channel_parts,
    sum_check,
    whole_surveys,
)
from apps.lightmap.page.query import MapQuery
from apps.tanks.access import may_write, readable_tank
from apps.tanks.models import Tank

TABLE_NODES = 5
# y [cm] and the cells of a row of the table.
Row = tuple[float, list[dict[str, float | bool]]]


@login_required
def channel_mix(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    parts = channel_parts(tank)
    mapped = [part for part in parts if part.field is not None]
    query = MapQuery.read(request.GET, tank=tank, unit=unit)
    depth_cm = tank.depth_cm / 2 if query.depth_cm is None else query.depth_cm
    sliders = [(i, part, _level(request.GET, i)) for i, part in enumerate(mapped)]
    context = {
        "tank": tank,
        "parts": parts,
        "sliders": sliders,
        "depth_cm": depth_cm,
        "depth_text": format_length(depth_cm, unit),
        "problems": query.problems,
        "unit": unit,
        "may_write": may_write(request.user, tank),
    }
    levels = tuple(level / 100.0 for _, _, level in sliders)
    if mapped and any(levels):
        mix = MixField(tuple(mapped), levels)
        context["drawing"] = draw_level(mix, tank, depth_cm=depth_cm, unit=unit)
        context["table_x"], context["table"] = _table(mix, tank, depth_cm)
    if mapped:
        context["check"] = _check(tank, mapped, query.survey_pk)
    return render(request, "lightmap/channels/channel_mix.html", context)


def _level(params: Mapping[str, str], index: int) -> float:
    """Return the query's level of a channel [%]: all full at first, nonsense is full too."""
    try:
        level = parse_number(params.get(f"level{index}", "100"), words=("%",))
    except UnreadableNumber:
        return 100.0
    return min(max(level, 0.0), 100.0)


def _check(tank: Tank, mapped: Sequence[ChannelPart], chosen_pk: int | None) -> SumCheck | None:
    whole = whole_surveys(tank)
    chosen = [survey for survey in whole if survey.pk == chosen_pk] or whole[:1]
    if not chosen:
        return None
    chosen[0].tank = tank
    return sum_check(mapped, chosen[0])


def _table(mix: MixField, tank: Tank, depth_cm: float) -> tuple[list[float], list[Row]]:
    """Return x [cm] of the columns and rows of (y [cm], cells) from the back to the front."""
    x, y, points = level_points(tank, depth_cm, TABLE_NODES)
    result = mix.at(points)
    cells: list[dict[str, float | bool]] = [
        {"par": float(par), "low": float(low), "high": float(high), "beyond": bool(beyond)}
        for par, low, high, beyond in zip(
            result.par_umol, result.low_umol, result.high_umol, result.extrapolated, strict=True
        )
    ]
    rows = [(float(y[j]), cells[j * len(x) : (j + 1) * len(x)]) for j in reversed(range(len(y)))]
    return x.tolist(), rows
