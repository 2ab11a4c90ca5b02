"""How light comes in by the open surface: past the rim, braces, a lid and the rocks below.

Solid geometry: how much of an emitter's patch passes an edge.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import RealArray
from apps.photics.ground.scene import Brace, Rock, Tank
from apps.photics.optics.beam import Images
from apps.photics.optics.outline_images import PickedRays
from apps.photics.optics.shade import EDGE_CM, boxes_shade, rock_shade


@dataclass(frozen=True)
class Crossing:
    """Where rays (k, e) cross the surface, and of how much of their emitter they stand."""

    x_cm: RealArray
    y_cm: RealArray
    cell_cm: RealArray  # (e, 2) what one emitter stands for
    part: RealArray  # of the ray's level way that lies above the surface [1]

    @property
    def wide_cm(self) -> tuple[RealArray, RealArray]:
        """Return how wide the patch is along x and y where it crosses the surface, (k, e) each."""
        return (
            self.cell_cm[:, 0] * (1.0 - self.part) + EDGE_CM,
            self.cell_cm[:, 1] * (1.0 - self.part) + EDGE_CM,
        )


def came_in(
    crossing: Crossing,
    images: Images,
    tank: Tank,
    rocks: Sequence[Rock],
    picked: PickedRays | None,
) -> RealArray:
    """Return how much of each ray's emitter patch comes to its image, (k, e) [1].

    `rocks` are all boxes that shade; `picked` the rays these are, where they are not all.
    """
    at_x, at_y = crossing.x_cm, crossing.y_cm
    passed: RealArray
    if picked is None:
        open_x, open_y = tank.length_cm, tank.width_cm
        wide_x, wide_y = crossing.wide_cm
        passed = (
            np.clip(0.5 + at_x / wide_x, 0.0, 1.0)
            * np.clip(0.5 + (open_x - at_x) / wide_x, 0.0, 1.0)
            * np.clip(0.5 + at_y / wide_y, 0.0, 1.0)
            * np.clip(0.5 + (open_y - at_y) / wide_y, 0.0, 1.0)
        )
        if images.blocks is not None:
            passed = passed * rock_shade(images, images.blocks, enter_x=at_x, enter_y=at_y)
    else:
        # The nearest pane alone: two at a corner would dim a ray there twice.
        wide_x, wide_y = crossing.wide_cm
        wide = 0.5 * (wide_x + wide_y)
        inside = tank.panes.inside_cm(at_x, at_y)
        passed = np.clip(0.5 + inside / wide, 0.0, 1.0) * picked.through
        for who, begin, end, gone in picked.legs(at_x, at_y) if rocks else ():
            depth = images.depth_cm[picked.image[who], 0]
            passed[0, who] *= boxes_shade(rocks, begin, end, gone * depth[:, None])
    for brace in tank.braces:
        passed = passed * past_brace(crossing, brace)
    if tank.cover_transmission != 1.0:
        passed = passed * passed.dtype.type(tank.cover_transmission)
    return passed


def past_brace(crossing: Crossing, brace: Brace) -> RealArray:
    """Return what a brace leaves of rays that cross the surface, (k, e) [1]."""
    covered: RealArray = np.ones_like(crossing.x_cm)
    for at, wide, begin, size in zip(
        (crossing.x_cm, crossing.y_cm),
        crossing.wide_cm,
        (brace.x_cm, brace.y_cm),
        (brace.length_cm, brace.width_cm),
        strict=True,
    ):
        from_begin = np.clip(0.5 + (at - begin) / wide, 0.0, 1.0)
        to_end = np.clip(0.5 + (begin + size - at) / wide, 0.0, 1.0)
        covered = covered * (from_begin + to_end - 1.0)
    left: RealArray = 1.0 - (1.0 - brace.transmission) * covered
    return left
