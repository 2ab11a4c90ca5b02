"""A tank's light at one moment as a grid, to be written to files."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from apps.later.progress import Progress, unheard
from apps.lightmap.lightmap import TankLight, tank_light
from apps.lightmap.spot_light import LightColumns, Provenance
from apps.photics.ground.arrays import BoolArray, FloatArray
from apps.tanks.models import Tank

# Steps between points [cm], the finest first; chosen, because a spreadsheet opens 40,000 lines at
# once and light hardly differs within 2.5 cm.
STEPS_CM = (2.5, 5.0, 10.0, 20.0)
POINTS_MOST = 40_000
# So many are worked out between two words on how far it is: chosen, about a second of many lamps.
POINTS_A_PART = 2_000
# What takes about a second: 31,700 points under 40 lamps took 18 s, 5,040 under 6 took 0.4 s.
POINTS_OF_LAMPS_AT_ONCE = 70_000


@dataclass(frozen=True)
class LightGrid:
    """PAR at the day's peak on a grid (depth, y, x) [umol m-2 s-1]; nan outside the water."""

    moment: dt.datetime
    x_cm: FloatArray
    y_cm: FloatArray
    depth_cm: FloatArray
    par_umol: FloatArray
    low_umol: FloatArray
    high_umol: FloatArray
    dli_mol: FloatArray | None  # None where the log gives no hours
    extrapolated: BoolArray
    rests_on: Provenance


def light_grid(tank: Tank, moment: dt.datetime, progress: Progress = unheard) -> LightGrid | None:
    """Return the LightGrid of a tank, None where nothing is known of its light.

    `progress` hears how many of its points are worked out.
    """
    x_cm, y_cm, depth_cm = grid_axes(tank.length_cm, tank.width_cm, tank.depth_cm)
    points = grid_points(x_cm, y_cm, depth_cm)
    shape = len(depth_cm), len(y_cm), len(x_cm)
    light = _followed(tank_light(tank), points, moment, progress)
    if light is None:
        return None

    def block(values: FloatArray) -> FloatArray:
        return np.where(light.inside, np.nan, values).reshape(shape)

    return LightGrid(
        moment=moment,
        x_cm=x_cm,
        y_cm=y_cm,
        depth_cm=depth_cm,
        par_umol=block(light.par_umol),
        low_umol=block(light.low_umol),
        high_umol=block(light.high_umol),
        dli_mol=None if light.dli_mol is None else block(light.dli_mol),
        extrapolated=light.extrapolated.reshape(shape),
        rests_on=light.rests_on,
    )


def _followed(
    light: TankLight, points: FloatArray, moment: dt.datetime, progress: Progress
) -> LightColumns | None:
    """Return the light at points (m, 3) [cm], worked out part by part; None where unknown."""
    parts = []
    progress(0, len(points), "points")
    for part in np.array_split(points, max(1, len(points) // POINTS_A_PART)):
        columns = light.columns_at(part, moment)
        if columns is None:
            return None
        parts.append(columns)
        progress(sum(len(c.par_umol) for c in parts), len(points), "points")
    return _joined(parts)


def _joined(parts: Sequence[LightColumns]) -> LightColumns:
    """Return the columns of all parts, which rest on the same, one after the other."""

    def column(name: str) -> Any:
        return np.concatenate([getattr(part, name) for part in parts])

    names = ("par_umol", "low_umol", "high_umol", "extrapolated", "inside")
    has_hours = parts[0].dli_mol is not None
    return LightColumns(
        **{name: column(name) for name in names},
        dli_mol=column("dli_mol") if has_hours else None,
        rests_on=parts[0].rests_on,
    )


def point_count(tank: Tank) -> int:
    """Return how many points in water the grid of a tank has; the light is worked out at none."""
    axes = grid_axes(tank.length_cm, tank.width_cm, tank.depth_cm)
    return int((~tank_light(tank).in_rock(grid_points(*axes))).sum())


def takes_long(tank: Tank) -> bool:
    """Whether working a tank's grid out takes more than about a second."""
    rig = tank.light_changes.present().filter(tells_rig=True).in_order().last()
    lamps = rig.hung.count() if rig else 1
    return point_count(tank) * max(lamps, 1) > POINTS_OF_LAMPS_AT_ONCE


def grid_points(x_cm: FloatArray, y_cm: FloatArray, depth_cm: FloatArray) -> FloatArray:
    """Return the points of three axes in the order (depth, y, x), (m, 3) [cm]."""
    z, y, x = np.meshgrid(depth_cm, y_cm, x_cm, indexing="ij")
    return np.column_stack([x.ravel(), y.ravel(), z.ravel()])


def grid_axes(*sides_cm: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return where the points lie along length, width and depth [cm]: the middles of equal cells.

    The cells are the finest of STEPS_CM that make no more than POINTS_MOST points.
    """
    for step in STEPS_CM:
        counts = [max(1, round(side / step)) for side in sides_cm]
        if np.prod(counts) <= POINTS_MOST:
            break
    x, y, depth = (
        np.array((np.arange(count) + 0.5) * (side / count), float)
        for count, side in zip(counts, sides_cm, strict=True)
    )
    return x, y, depth
