"""Diffuse daylight that comes in by the panes of one side.

A room is alike bright all over, so the panes of that side shine alike into the water, no flatter
than glass and water bend it; ways are followed back from the sensor, mirrored by the other panes
and by the surface from below, by Snell's law and Fresnel's equations. Rocks stand in their way;
what they and the bottom send back is not counted.
"""

from functools import lru_cache

import numpy as np

from apps.photics.ground.arrays import FloatArray, IntArray, RealArray
from apps.photics.ground.outline import SIDES
from apps.photics.ground.scene import Rock, Tank, solids
from apps.photics.ground.water import WATER_INDEX
from apps.photics.optics.beam import FROM_WATER, look_up
from apps.photics.optics.bottom import K_PER_CM, PANE_QUALITY, TANKS
from apps.photics.optics.outline_images import dark_panes, off_panes
from apps.photics.optics.shade import boxes_shade
from apps.photics.optics.walk import Passed, walk

# Ways followed: turns, and rises up to the steepest that comes in by an upright pane. Chosen,
# because daylight is even and mostly a small part of all.
TURNS, RISES = 32, 4
STEEPEST = float(np.arcsin(1.0 / WATER_INDEX))
# Where its PAR is stated: so far inside the pane [cm], chosen as a sensor's radius.
STATED_AT_CM = 1.5
# Longer level ways than this many tank lengths are too dim to count [1]: chosen.
FARTHEST = 3.0


def daylight_at(points_cm: RealArray, tank: Tank, rocks: tuple[Rock, ...] = ()) -> FloatArray:
    """Return the PAR of a tank's window at points (n, 3) [cm], (n,) [umol m-2 s-1].

    What is stated of the window is its light before any rock.
    """
    if tank.window is None:
        return np.zeros(len(points_cm))
    seen = seen_part(points_cm, tank, solids(tank, rocks))
    light: FloatArray = tank.window.par_umol / stated_part(tank) * seen
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


def seen_part(points_cm: RealArray, tank: Tank, boxes: tuple[Rock, ...] = ()) -> FloatArray:
    """Return what points (n, 3) see of the window, each way by its cosine to a level sensor [1].

    `boxes` stand in the water and stop light.
    """
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
    depth = np.repeat(points_cm[:, 2].astype(float), ways)
    slope = np.tile(np.tan(rise), many)
    walked = walk(
        begin,
        level,
        length_cm=np.full(many * ways, farthest),
        sine=sine,
        outline=panes,
        dark=dark_panes(tank, panes),
        quality=PANE_QUALITY,
        stops=panes.facing(tank.window.side),
        passed=past_boxes(boxes, depth, slope) if boxes else None,
    )
    came = walked.last_pane >= 0
    entering = np.abs((panes.normals[walked.last_pane] * walked.way).sum(axis=1)) * sine
    kept = walked.kept * (1.0 - look_up(FROM_WATER, np.clip(entering, 0.0, 1.0))) * came
    up = slope * walked.gone_cm
    by_surface = np.where(up > depth, look_up(FROM_WATER, np.tile(np.sin(rise), many)), 1.0)
    in_water = up - depth < tank.depth_cm
    light = kept * by_surface * in_water * np.exp(-K_PER_CM * walked.gone_cm / sine)
    weights = np.sin(rise) * np.cos(rise)
    seen: FloatArray = light.reshape(many, ways) @ weights
    return seen


def past_boxes(boxes: tuple[Rock, ...], depth_cm: FloatArray, slope: FloatArray) -> Passed:
    """Return what boxes leave of ways that rise from their sensors and come back off the surface.

    `depth_cm` (m,) of each way's sensor, `slope` (m,) how far it rises by level cm [1]. Geometry:
    a way that meets the surface is two straight ones.
    """

    def passed(
        who: IntArray, begin_cm: FloatArray, end_cm: FloatArray, gone_cm: FloatArray
    ) -> RealArray:
        level = np.hypot(*(end_cm - begin_cm).T)
        rise = slope[who]
        start = depth_cm[who] - rise * gone_cm
        stop = start - rise * level
        # Where it meets the surface, as a part of the stretch.
        part = np.clip(start / np.maximum(start - stop, 1e-12), 0.0, 1.0)
        middle = begin_cm + part[:, None] * (end_cm - begin_cm)
        turn = np.abs(start - part * (start - stop))
        one = boxes_shade(boxes, begin_cm, middle, np.stack([np.abs(start), turn], axis=1))
        other = boxes_shade(boxes, middle, end_cm, np.stack([turn, np.abs(stop)], axis=1))
        return one * other

    return passed
