"""The map of any mix of channels, from surveys of one channel each."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render

from apps.common.numbers import UnreadableNumber, parse_number
from apps.common.units import format_length
from apps.drawing.level import draw_level, level_points
from apps.lightmap.channels.channels import MixField, channel_parts, sum_check, whole_surveys
from apps.lightmap.page.query import MapQuery
from apps.tanks.access import may_write, readable_tank

TABLE_NODES = 5


@login_required
def channel_mix(request, tank_pk):
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


def _level(params, index):
    """Return the query's level of a channel [%]: all full at first, nonsense is full too."""
    try:
        level = parse_number(params.get(f"level{index}", "100"), words=("%",))
    except UnreadableNumber:
        return 100.0
    return min(max(level, 0.0), 100.0)


def _check(tank, mapped, chosen_pk):
    whole = whole_surveys(tank)
    chosen = [survey for survey in whole if survey.pk == chosen_pk] or whole[:1]
    if not chosen:
        return None
    chosen[0].tank = tank
    return sum_check(mapped, chosen[0])


def _table(mix, tank, depth_cm):
    """Return x [cm] of the columns and rows of (y [cm], cells) from the back to the front."""
    x, y, points = level_points(tank, depth_cm, TABLE_NODES)
    result = mix.at(points)
    cells = [
        {"par": float(par), "low": float(low), "high": float(high), "beyond": bool(beyond)}
        for par, low, high, beyond in zip(
            result.par_umol, result.low_umol, result.high_umol, result.extrapolated, strict=True
        )
    ]
    rows = [(float(y[j]), cells[j * len(x) : (j + 1) * len(x)]) for j in reversed(range(len(y)))]
    return x.tolist(), rows
