"""The map of any mix of channels, from surveys of one channel each."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from django.contrib.auth.decorators import login_required
from django.shortcuts import render

from apps.common.contours import band_colours, filled_bands, round_levels
from apps.common.numbers import UnreadableNumber, parse_number
from apps.common.units import format_length
from apps.surveys.channels import MixField, channel_parts, sum_check, whole_surveys
from apps.surveys.map_asked import Asked
from apps.surveys.map_frame import frame_for
from apps.tanks.access import may_write, readable_tank

NODES = 25
TABLE_NODES = 5


@dataclass(frozen=True)
class MixDrawing:
    frame: object
    bands: tuple
    legend: tuple  # (words of a band, its colour)
    rocks: tuple
    x_ticks: list
    y_ticks: list


@login_required
def channel_mix(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    unit = request.user.units
    parts = channel_parts(tank)
    mapped = [part for part in parts if part.field is not None]
    asked = Asked.read(request.GET, tank=tank, unit=unit)
    depth_cm = tank.depth_cm / 2 if asked.depth_cm is None else asked.depth_cm
    sliders = [(i, part, _level(request.GET, i)) for i, part in enumerate(mapped)]
    context = {
        "tank": tank,
        "parts": parts,
        "sliders": sliders,
        "depth_cm": depth_cm,
        "depth_text": format_length(depth_cm, unit),
        "problems": asked.problems,
        "unit": unit,
        "may_write": may_write(request.user, tank),
    }
    levels = tuple(level / 100.0 for _, _, level in sliders)
    if mapped and any(levels):
        mix = MixField(tuple(mapped), levels)
        context["drawing"] = draw_mix(mix, tank, depth_cm, unit)
        context["table_x"], context["table"] = _table(mix, tank, depth_cm)
    if mapped:
        context["check"] = _check(tank, mapped, asked.survey_pk)
    return render(request, "surveys/channel_mix.html", context)


def _level(params, index):
    """Return the level asked for a channel [%]: all full at first, nonsense is full too."""
    try:
        level = parse_number(params.get(f"level{index}", "100"), words=("%",))
    except UnreadableNumber:
        return 100.0
    return min(max(level, 0.0), 100.0)


def _check(tank, mapped, asked_pk):
    whole = whole_surveys(tank)
    chosen = [survey for survey in whole if survey.pk == asked_pk] or whole[:1]
    if not chosen:
        return None
    chosen[0].tank = tank
    return sum_check(mapped, chosen[0])


def _level_points(tank, depth_cm, nodes):
    x = np.linspace(0.0, tank.length_cm, nodes)
    y = np.linspace(0.0, tank.width_cm, nodes)
    across, back = np.meshgrid(x, y)
    points = np.stack([across.ravel(), back.ravel(), np.full(across.size, depth_cm)], axis=1)
    return x, y, points


def draw_mix(mix, tank, depth_cm, unit):
    """Return the MixDrawing of a MixField on the plan at one depth [cm]."""
    x, y, points = _level_points(tank, depth_cm, NODES)
    values = mix.at(points).par_umol.reshape(len(y), len(x))
    frame = frame_for(tank.length_cm, tank.width_cm, upward=True)
    levels = round_levels(float(values.min()), float(values.max()))
    colours = band_colours(len(levels) + 1)
    paths = filled_bands(frame.x(x), frame.y(y), values, levels)
    ends = [f"below {levels[0]:g}"] if levels else [f"about {values.mean():.0f}"]
    ends += [f"{a:g} to {b:g}" for a, b in pairwise(levels)]
    ends += [f"above {levels[-1]:g}"] if levels else []
    return MixDrawing(
        frame=frame,
        bands=tuple((path, colour) for path, colour in zip(paths, colours, strict=True) if path),
        legend=tuple(zip(ends, colours, strict=True)),
        rocks=tuple(
            frame.rectangle(rock.x_cm, rock.y_cm, rock.length_cm, rock.width_cm)
            for rock in tank.rocks.present()
        ),
        x_ticks=frame.x_ticks(unit),
        y_ticks=frame.y_ticks(unit),
    )


def _table(mix, tank, depth_cm):
    """Return x [cm] of the columns and rows of (y [cm], cells) from the back to the front."""
    x, y, points = _level_points(tank, depth_cm, TABLE_NODES)
    found = mix.at(points)
    cells = [
        {"par": float(par), "low": float(low), "high": float(high), "beyond": bool(beyond)}
        for par, low, high, beyond in zip(
            found.par_umol, found.low_umol, found.high_umol, found.extrapolated, strict=True
        )
    ]
    rows = [(float(y[j]), cells[j * len(x) : (j + 1) * len(x)]) for j in reversed(range(len(y)))]
    return x.tolist(), rows
