"""Level ways followed from pane to pane inside an outline."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import BoolArray, FloatArray, IntArray, RealArray
from apps.photics.ground.outline import Outline
from apps.photics.optics.beam import FROM_WATER, look_up

# What is left of level stretches: which ways (m,), where each begins and ends (m, 2), and how far
# the way has gone before (m,) [cm]; returns (m,) [1].
Passed = Callable[[IntArray, FloatArray, FloatArray, FloatArray], RealArray]
# Panes met at most: chosen, because after so many what is left is dim or runs along a curved pane.
PANES_MOST = 12


@dataclass(frozen=True)
class Walked:
    """Where level ways end, (m, 2) [cm], what the panes left of them and which stopped one."""

    end_cm: FloatArray
    kept: FloatArray  # (m,) [1]
    gone_cm: FloatArray  # (m,) level distance to the end
    last_pane: IntArray  # (m,) the pane a way stopped at, -1 where it met none that stops it
    way: FloatArray  # (m, 2) unit level ways at the end


def walk(
    begin_cm: FloatArray,
    level: FloatArray,
    *,
    length_cm: FloatArray,
    sine: FloatArray,
    outline: Outline,
    dark: BoolArray,
    quality: float,
    stops: BoolArray | None = None,
    passed: Passed | None = None,
) -> Walked:
    """Follow ways from `begin_cm` (m, 2) along unit `level` ways (m, 2) for `length_cm` (m,).

    `sine` (m,) is the level part of the way in water, that Fresnel at the panes of the `outline`
    asks for [1]; `dark` (p,) panes swallow all, others leave `quality` of what Fresnel mirrors
    [1]; a way ends at the panes that are `stops` (p,). `passed` says what things in the water leave
    of each stretch between panes.
    """
    at, way, left = begin_cm.copy(), level.copy(), length_cm.copy()
    kept, last = np.ones(len(at)), np.full(len(at), -1)
    who = np.arange(len(at))
    for _ in range(PANES_MOST):
        speed = way[who] @ outline.normals.T
        gap = np.maximum(outline.offsets - at[who] @ outline.normals.T, 0.0)
        run = np.where(speed > 1e-9, gap / np.where(speed > 1e-9, speed, 1.0), np.inf)
        pane = run.argmin(axis=1)
        nearest = run[np.arange(len(who)), pane]
        moved = np.minimum(nearest, left[who])
        if passed is not None:
            gone = length_cm[who] - left[who]
            kept[who] *= passed(who, at[who], at[who] + way[who] * moved[:, None], gone)
        at[who] += way[who] * moved[:, None]
        left[who] -= moved
        hit = nearest <= moved
        who, pane, toward = who[hit], pane[hit], speed[hit, pane[hit]]
        if stops is not None:
            stopped = stops[pane]
            last[who[stopped]] = pane[stopped]
            who, pane, toward = who[~stopped], pane[~stopped], toward[~stopped]
        if not len(who):
            break
        mirrored = look_up(FROM_WATER, np.clip(toward * sine[who], 0.0, 1.0))
        kept[who] *= mirrored * quality * ~dark[pane]
        way[who] -= 2.0 * toward[:, None] * outline.normals[pane]
    return Walked(at, kept, length_cm - left, last, way)
