"""Light that comes back from the bottom: scattered up, mirrored down again by the surface.

A level sensor looks up, so it meets the bottom's light only where the surface mirrors it: beyond
the critical angle nearly all, above it little. Straight rays are followed from the sensor to the
surface's mirror image of the bottom, losing at every pane what Fresnel lets out.
"""

from functools import lru_cache

import numpy as np

from apps.photics.ground.recall import recall
from apps.photics.optics.beam import COSINES, FROM_WATER

# Directions followed: rings of equal share of cos-weighted sky, and azimuths.
RINGS = 3
AZIMUTHS = 8
# Sine squared where the surface starts to mirror; below it little comes back [1].
SINE2_FROM = 0.42
BOTTOM_NODES = (10, 8)
# Tanks whose cells are remembered: a history asks for them with every rig.
TANKS = 32
# Nominal attenuation and pane quality along these long, dim paths [1/cm, 1].
K_PER_CM = 0.002
PANE_QUALITY = 0.97
# Light scattered by the water and by all else reaches even corners no ray does [share], house rule.
STRAY = 0.02
# However much rock lies over the bottom, the stray light is that of a bottom at least so far
# open [share]: no water is black. House rule.
OPEN_LEAST = 0.1


def bottom_return(points_cm, rig):
    """Return PAR from the bottom at points (n, 3) per unit of bottom reflectance, (n, F)."""
    tank, lit = rig.tank, rig.lit_bottom
    least = OPEN_LEAST * rig.open_bottom.mean(axis=0)
    total = np.full((len(points_cm), rig.many), STRAY * np.maximum(lit.mean(axis=0), least))
    for where, kept in recall(looks_down, points_cm, tank):
        for k in range(rig.many):
            total[:, k] += (kept * lit[:, k][where]).sum(axis=1)
    return total


def looks_down(points_cm, tank):
    """Return, ring by ring of the mirroring sky, the bottom cells seen and what comes of them.

    Cells and shares are (n, AZIMUTHS) for points (n, 3).
    """
    sine2 = SINE2_FROM + (np.arange(RINGS) + 0.5) / RINGS * (1.0 - SINE2_FROM)
    share = (1.0 - SINE2_FROM) / RINGS / AZIMUTHS
    turns = (np.arange(AZIMUTHS) + 0.5) / AZIMUTHS * 2.0 * np.pi
    rings = []
    for sine, cosine in zip(np.sqrt(sine2), np.sqrt(1.0 - sine2), strict=True):
        surface = np.interp(cosine, COSINES, FROM_WATER)
        path = (tank.depth_cm + points_cm[:, 2]) / cosine
        where, kept = follow(points_cm, sine * np.cos(turns), sine * np.sin(turns), path, tank)
        rings.append((where, kept * (share * surface * np.exp(-K_PER_CM * path))[:, None]))
    return rings


def bottom_light(rig):
    """Return direct and mirrored light on the bottom at BOTTOM_NODES cells, (cells, F)."""
    # In single precision: it is worked out for every rig, and is a small part of the light.
    images = rig.images(bottom_cells(rig.tank).astype(np.float32))
    light = rig.rays(images, rig.nominal(), slopes=False) @ rig.member
    return np.add.reduceat(light, images.start, axis=0)


@lru_cache(maxsize=TANKS)
def bottom_cells(tank):
    """Return the middles of the bottom's cells, (cells, 3) [cm]; nobody writes into them."""
    nx, ny = BOTTOM_NODES
    x = (np.arange(nx) + 0.5) / nx * tank.length_cm
    y = (np.arange(ny) + 0.5) / ny * tank.width_cm
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return np.column_stack([grid, np.full(len(grid), tank.depth_cm)])


def follow(points_cm, way_x, way_y, path_cm, tank):
    """Return which bottom cell mirrored looks meet and what the panes leave of them, (n, a).

    From points (n, 3) along a directions of level parts way_x and way_y (a,).
    """
    kept = np.ones((len(points_cm), len(way_x)))
    cells = []
    sizes = (tank.length_cm, tank.width_cm)
    for axis, (size, many, way) in enumerate(zip(sizes, BOTTOM_NODES, (way_x, way_y), strict=True)):
        unfolded = points_cm[:, axis, None] / size + way * path_cm[:, None] / size
        box = np.floor(unfolded)
        inside = unfolded - box
        inside = np.where(box % 2 == 0, inside, 1.0 - inside)
        pane = np.interp(np.abs(way), COSINES, FROM_WATER) * PANE_QUALITY
        kept *= np.exp(np.abs(box) * np.log(pane))
        if axis == 1 and tank.back_pane == "dark":
            # Forward through the back, or backward through the front and then the back.
            kept *= (box == 0) | (box == -1)
        cells.append(np.minimum((inside * many).astype(np.int32), many - 1))
    return cells[1] * BOTTOM_NODES[0] + cells[0], kept
