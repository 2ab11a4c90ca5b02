"""Light that comes back from the bottom: scattered up, mirrored down again by the surface.

A level sensor looks up, so it meets the bottom's light only where the surface mirrors it: beyond
the critical angle nearly all, above it little. Straight rays are followed from the sensor to the
surface's mirror image of the bottom, losing at every pane what Fresnel lets out. The bottom
scatters by Lambert's law.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Protocol

import numpy as np

from apps.photics.ground.arrays import BoolArray, FloatArray, IntArray, RealArray
from apps.photics.ground.recall import recall
from apps.photics.ground.scene import Tank
from apps.photics.optics.beam import COSINES, FROM_WATER, Images
from apps.photics.optics.outline_images import dark_panes, off_panes
from apps.photics.optics.walk import walk

# Directions followed: rings of equal share of cos-weighted sky, and azimuths. Chosen, because the
# bottom's light is even and a small part of all.
RINGS = 3
AZIMUTHS = 8
# Sine squared where the surface starts to mirror [1]: chosen a little below the critical angle's
# 1 / 1.34^2 = 0.56, below which little comes back.
SINE2_FROM = 0.42
# Cells of the bottom along its length and width: chosen, because its light is even.
BOTTOM_NODES = (10, 8)
# Tanks whose cells are remembered: chosen, because a history asks for them with every rig.
TANKS = 32
# Nominal attenuation and pane quality along these long, dim paths [1/cm, 1]: chosen near those a
# rig starts with, since their light is too little for readings to correct.
K_PER_CM = 0.002
PANE_QUALITY = 0.97
# Light scattered by the water and by all else reaches even corners no ray does [share]:
# chosen, because no corner measured is black.
STRAY = 0.02
# However much rock lies over the bottom, the stray light is that of a bottom at least so far
# open [share]: chosen, because no water is black.
OPEN_LEAST = 0.1


class LitBottom(Protocol):
    """The light of F sources on the cells of a tank's bottom, in any one unit."""

    @property
    def tank(self) -> Tank: ...
    @property
    def many(self) -> int: ...
    @property
    def lit_bottom(self) -> RealArray:
        """Return the light of each source, (cells, F), in that unit."""
        ...

    @property
    def open_bottom(self) -> RealArray:
        """Return the light if nothing shaded the bottom, (cells, F), in that unit."""
        ...


class LitRig(Protocol):
    """What lighting the bottom asks of a rig of F fixtures; `rig.Rig` is one."""

    tank: Tank
    member: FloatArray  # (e, F) what part of a fixture each emitter is [1]

    def images(self, points_cm: RealArray) -> Images:
        """Return the Images of `points_cm` (n, 3)."""
        ...

    def nominal(self) -> FloatArray:
        """Return the parameters as described, (4 F + 8,) [log, cm]."""
        ...

    def ray_light(self, images: Images, theta: FloatArray) -> RealArray:
        """Return the light along every ray, (k, e) [axial intensity/cm2], at theta (4 F + 8,)."""
        ...


def bottom_return(points_cm: RealArray, rig: LitBottom) -> FloatArray:
    """Return PAR from the bottom per unit of bottom reflectance, (n, F), in the unit of lit_bottom.

    `points_cm` (n, 3) in the tank's frame [cm]. For a bottom that scatters alike all round.
    """
    tank, lit = rig.tank, rig.lit_bottom
    there = cells_there(tank)
    least = OPEN_LEAST * rig.open_bottom[there].mean(axis=0)
    stray = STRAY * np.maximum(lit[there].mean(axis=0), least)
    total = np.full((len(points_cm), rig.many), stray)
    for where, kept in recall(looks_down, points_cm, tank):
        for k in range(rig.many):
            total[:, k] += (kept * lit[:, k][where]).sum(axis=1)
    return total


def looks_down(points_cm: RealArray, tank: Tank) -> list[tuple[IntArray, FloatArray]]:
    """Return, ring by ring of the mirroring sky, the bottom cells seen and what comes of them [1].

    `points_cm` (n, 3) in the tank's frame [cm]; cells and shares are (n, AZIMUTHS).
    """
    sine2 = SINE2_FROM + (np.arange(RINGS) + 0.5) / RINGS * (1.0 - SINE2_FROM)
    share = (1.0 - SINE2_FROM) / RINGS / AZIMUTHS
    turns = (np.arange(AZIMUTHS) + 0.5) / AZIMUTHS * 2.0 * np.pi
    rings = []
    for sine, cosine in zip(np.sqrt(sine2), np.sqrt(1.0 - sine2), strict=True):
        surface = np.interp(cosine, COSINES, FROM_WATER)
        path = (tank.depth_cm + points_cm[:, 2]) / cosine
        ways = sine * np.cos(turns), sine * np.sin(turns)
        if tank.is_box:
            where, kept = follow(points_cm, ways, path_cm=path, tank=tank)
        else:
            where, kept = follow_outline(points_cm, ways, path_cm=path, tank=tank)
        rings.append((where, kept * (share * surface * np.exp(-K_PER_CM * path))[:, None]))
    return rings


def bottom_light(rig: LitRig) -> RealArray:
    """Return direct and mirrored light on the bottom's cells, (cells, F) [axial intensity/cm2]."""
    # In single precision: it is worked out for every rig, and is a small part of the light.
    images = rig.images(bottom_cells(rig.tank).astype(np.float32))
    light = rig.ray_light(images, rig.nominal()) @ rig.member
    return images.summed(light)


@lru_cache(maxsize=TANKS)
def bottom_cells(tank: Tank) -> FloatArray:
    """Return the middles of a tank's bottom's cells, (cells, 3) [cm]; nobody writes into them."""
    nx, ny = BOTTOM_NODES
    x = (np.arange(nx) + 0.5) / nx * tank.length_cm
    y = (np.arange(ny) + 0.5) / ny * tank.width_cm
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return np.column_stack([grid, np.full(len(grid), tank.depth_cm)])


def cells_there(tank: Tank) -> slice | BoolArray:
    """Return which of a tank's bottom's cells have their middle within the panes, (cells,)."""
    if tank.is_box:
        return slice(None)
    return ~tank.outside(*bottom_cells(tank)[:, :2].T)


def follow_outline(
    points_cm: RealArray, ways: Sequence[FloatArray], *, path_cm: FloatArray, tank: Tank
) -> tuple[IntArray, FloatArray]:
    """Return what `follow` does, (n, a) each, in a tank that is no box.

    `points_cm` (n, 3), `ways` (a,) each [1] and `path_cm` (n,) as there.
    """
    sine = np.hypot(*ways)
    level = np.stack([way / sine for way in ways], axis=1)
    shape = len(points_cm), len(sine)
    outline = tank.even_panes
    at = np.repeat(off_panes(outline, points_cm[:, :2].astype(float)), len(sine), axis=0)
    walked = walk(
        at,
        np.tile(level, (len(points_cm), 1)),
        length_cm=(path_cm[:, None] * sine).ravel(),
        sine=np.broadcast_to(sine, shape).ravel(),
        outline=outline,
        dark=dark_panes(tank, outline),
        quality=PANE_QUALITY,
    )
    nx, ny = BOTTOM_NODES
    ix = np.clip(walked.end_cm[:, 0] / tank.length_cm * nx, 0, nx - 1).astype(np.int32)
    iy = np.clip(walked.end_cm[:, 1] / tank.width_cm * ny, 0, ny - 1).astype(np.int32)
    return (iy * nx + ix).reshape(shape), walked.kept.reshape(shape)


def follow(
    points_cm: RealArray, ways: Sequence[FloatArray], *, path_cm: FloatArray, tank: Tank
) -> tuple[IntArray, FloatArray]:
    """Return which bottom cell mirrored looks meet and what the panes leave of them [1], (n, a).

    `points_cm` (n, 3) in the tank's frame, `ways` level parts in x and in y of `a` directions, (a,)
    each [1], `path_cm` (n,) from point to bottom by way of the surface [cm].
    """
    lost = np.zeros((len(points_cm), len(ways[0])))
    cells = []
    sizes = (tank.length_cm, tank.width_cm)
    for axis, (size, many, way) in enumerate(zip(sizes, BOTTOM_NODES, ways, strict=True)):
        unfolded = points_cm[:, axis, None] / size + way * path_cm[:, None] / size
        box = np.floor(unfolded)
        inside = unfolded - box
        # By its last bit: a remainder of floats costs as much as all else here.
        inside = np.where(box.astype(np.int32) & 1, 1.0 - inside, inside)
        pane = np.interp(np.abs(way), COSINES, FROM_WATER) * PANE_QUALITY
        lost += np.abs(box) * np.log(pane)
        if axis == 1 and tank.back_pane == "dark":
            # Forward through the back, or backward through the front and then the back.
            lost[(box != 0) & (box != -1)] = -np.inf
        cells.append(np.minimum((inside * many).astype(np.int32), many - 1))
    return cells[1] * BOTTOM_NODES[0] + cells[0], np.exp(lost)
