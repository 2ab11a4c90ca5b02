"""Diffuse daylight that comes in by the panes of one side.

A room is alike bright all over, so the panes of that side shine alike into the water, no flatter
than glass and water bend it; ways are followed back from the sensor, mirrored by the other panes
and by the surface from below, by Snell's law and Fresnel's equations. Rocks are not counted, nor
what the bottom sends back.
"""

from functools import lru_cache

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.outline import SIDES
from apps.photics.ground.scene import Tank
from apps.photics.ground.water import WATER_INDEX
from apps.photics.optics.beam import FROM_WATER, look_up
from apps.photics.optics.bottom import K_PER_CM, PANE_QUALITY, TANKS
from apps.photics.optics.outline_images import dark_panes, off_panes
from apps.photics.optics.walk import walk

# Ways followed: turns, and rises up to the steepest that comes in by an upright pane. Chosen,
# because daylight is even and mostly a small part of all.
TURNS, RISES = 32, 4
STEEPEST = float(np.arcsin(1.0 / WATER_INDEX))
# Where its PAR is stated: so far inside the pane [cm], chosen as a sensor's radius.
STATED_AT_CM = 1.5
# Longer level ways than this many tank lengths are too dim to count [1]: chosen.
FARTHEST = 3.0


def daylight_at(points_cm: RealArray, tank: Tank) -> FloatArray:
    """Return the PAR of a tank's window at points (n, 3) [cm], (n,) [umol m-2 s-1]."""
    if tank.window is None:
        return np.zeros(len(points_cm))
    light: FloatArray = tank.window.par_umol / stated_part(tank) * seen_part(points_cm, tank)
    return light


@lru_cache(maxsize=TANKS)
def stated_part(tank: Tank) -> float:
    """Return `seen_part` where the window's PAR is stated [1]."""
    assert tank.window is not None
    across = np.array(SIDES[tank.window.side])
    panes = tank.even_panes
    facing = panes.facing(tank.window.side)
    ends = np.concatenate([panes.begins[facing], panes.ends[facing]])
    level = ends.mean(axis=0)
    level = level + across * ((ends - level) @ across).max()
    inside = off_panes(panes, level[None])[0] - across * STATED_AT_CM
    return float(seen_part(np.array([[*inside, tank.depth_cm / 2.0]]), tank)[0])


def seen_part(points_cm: RealArray, tank: Tank) -> FloatArray:
    """Return what points (n, 3) see of the window, each way by its cosine to a level sensor [1]."""
    assert tank.window is not None
    panes = tank.even_panes
    rises = (np.arange(RISES) + 0.5) / RISES * STEEPEST
    turns = (np.arange(TURNS) + 0.5) / TURNS * 2.0 * np.pi
    rise, turn = np.tile(rises, TURNS), np.repeat(turns, RISES)
    many, ways = len(points_cm), len(rise)
    begin = np.repeat(off_panes(panes, points_cm[:, :2].astype(float)), ways, axis=0)
    level = np.tile(np.stack([np.cos(turn), np.sin(turn)], axis=1), (many, 1))
    farthest = FARTHEST * (tank.length_cm + tank.width_cm)
    sine = np.tile(np.cos(rise), many)
    walked = walk(
        begin,
        level,
        length_cm=np.full(many * ways, farthest),
        sine=sine,
        outline=panes,
        dark=dark_panes(tank, panes),
        quality=PANE_QUALITY,
        stops=panes.facing(tank.window.side),
    )
    came = walked.last_pane >= 0
    entering = np.abs((panes.normals[walked.last_pane] * walked.way).sum(axis=1)) * sine
    kept = walked.kept * (1.0 - look_up(FROM_WATER, np.clip(entering, 0.0, 1.0))) * came
    up = np.tile(np.tan(rise), many) * walked.gone_cm
    depth = np.repeat(points_cm[:, 2].astype(float), ways)
    by_surface = np.where(up > depth, look_up(FROM_WATER, np.tile(np.sin(rise), many)), 1.0)
    in_water = up - depth < tank.depth_cm
    light = kept * by_surface * in_water * np.exp(-K_PER_CM * walked.gone_cm / sine)
    weights = np.sin(rise) * np.cos(rise)
    seen: FloatArray = light.reshape(many, ways) @ weights
    return seen
