"""What a fixture sends toward a ray that does not leave it round its plumb line.

A tilted face has its axis off the plumb line, and a measured optic may send more to one side than
to the other (solid geometry). Both ask for the ray's way as the fixture sees it: the cosine of the
angle from its axis and the turn about it. Fixtures that hang level and send alike all round need
none of this.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.scene import Fixture
from apps.photics.optics.ray_geometry import RayGeometry

# Parts in x, y and down, (k, e) each.
Parts = tuple[RealArray, RealArray, RealArray]

# A ray that leaves behind the face meets this cosine, and no light [1]: chosen, because a log
# needs something above zero.
BEHIND = 1e-6
# Straight along the axis every turn is the same, and the angle has no slope [1]: chosen, because
# 0.006 degrees are below any aim.
SINE_FLOOR = 1e-4


@dataclass(frozen=True)
class Orientations:
    """The frames of emitters' fixtures in the tank's: parts in x, y and down, (e, 3) each [1].

    `along` lies in the lit face along its length, `across` along its width, `axis` points where
    the fixture shines.
    """

    along: FloatArray
    across: FloatArray
    axis: FloatArray
    # A fixture's MeasuredOptic, if it has one, and its emitters; all fixtures.
    optics: tuple[tuple[MeasuredOptic | None, slice], ...]

    def directions(self, geometry: RayGeometry) -> "RayDirections":
        """Return the RayDirections of rays (k, e) by their RayGeometry."""
        slope, cos = geometry.slope, geometry.cos
        unit = 1.0 / np.maximum(geometry.away, 1e-9)
        x, y, cos3, sine = geometry.dx * unit, geometry.dy * unit, cos * cos * cos, slope * cos
        return RayDirections(
            self,
            (x * sine, y * sine, cos),
            (x * cos3, y * cos3, -slope * cos3),
            (-y * sine, x * sine, np.zeros_like(cos)),
        )


@dataclass(frozen=True)
class RayDirections:
    """Rays as their fixtures see them; ways of three parts (k, e) in x, y and down."""

    orientations: Orientations
    way: Parts
    steeper: Parts  # how the way turns with the ray's slope
    round: Parts  # and with its azimuth

    def cosine(self) -> RealArray:
        """Return the cosine from each fixture's axis, below zero behind its face, (k, e) [1]."""
        return along_axes(self.orientations.axis, self.way)

    def chained(self, by_cosine: RealArray) -> tuple[RealArray, RealArray]:
        """Return derivatives by slope and azimuth from one by the cosine from the axis.

        `by_cosine` (k, e) [1]; the answers (k, e) [1, 1/rad].
        """
        axis = self.orientations.axis
        return by_cosine * along_axes(axis, self.steeper), by_cosine * along_axes(axis, self.round)

    def measured(self) -> Parts:
        """Return the ratio of measured optics, and its log's derivatives by slope and azimuth.

        (k, e) each [1, 1, 1/rad]; 1 and no derivative where a fixture has none.
        """
        blank = np.zeros_like(self.way[2])
        parts = blank + 1.0, blank.copy(), blank
        for optic, own in self.orientations.optics:
            if optic is not None:
                for whole, part in zip(parts, self.measured_by(optic, own), strict=True):
                    whole[:, own] = part
        return parts

    def measured_by(self, optic: MeasuredOptic, own: slice) -> Parts:
        """Return what `measured` does, for the emitters `own` of one fixture with an `optic`."""
        axes = [
            axes[own]
            for axes in (self.orientations.along, self.orientations.across, self.orientations.axis)
        ]

        def seen(way: Parts) -> Parts:
            x, y, down = (part[:, own] for part in way)
            first, second, third = (along_axes(axis, (x, y, down)) for axis in axes)
            return first, second, third

        along, across, cosine = seen(self.way)
        sine2 = np.maximum(along * along + across * across, SINE_FLOOR**2)
        angle = np.degrees(np.arctan2(np.sqrt(sine2), cosine))
        ratio, by_angle, by_turn = optic.look_up(
            angle, turn_deg=np.degrees(np.arctan2(across, along))
        )
        slopes = []
        for d_along, d_across, d_cosine in (seen(self.steeper), seen(self.round)):
            d_turn = (along * d_across - across * d_along) / sine2
            by_way = np.degrees(by_turn * d_turn - by_angle * d_cosine / np.sqrt(sine2))
            slopes.append(by_way / ratio)
        by_slope, by_azimuth = slopes
        return ratio, by_slope, by_azimuth


def along_axes(axes: FloatArray, way: Parts) -> RealArray:
    """Return the parts of ways along axes, (k, e), in the unit and precision of the ways.

    `axes` (e, 3) of length 1 [1]; `way` in x, y and down.
    """
    axes = axes.astype(way[2].dtype)
    return axes[:, 0] * way[0] + axes[:, 1] * way[1] + axes[:, 2] * way[2]


def frame(turn_deg: float, *, tilt_deg: float) -> FloatArray:
    """Return the unit axes along, across and axis of a lit face, (3, 3) in x, y and down [1].

    `turn_deg` about the plumb line, `tilt_deg` about its own length, any angles [degrees]. Turned
    first; then tilted, above zero so that it shines toward where its width points: to
    the back when it is not turned.

    >>> [round(float(part), 3) for part in frame(0, tilt_deg=30)[2]]
    [0.0, 0.5, 0.866]
    """
    turn, tilt = np.radians(turn_deg), np.radians(tilt_deg)
    level = np.array([-np.sin(turn), np.cos(turn), 0.0])
    down = np.array([0.0, 0.0, 1.0])
    return np.array(
        [
            [np.cos(turn), np.sin(turn), 0.0],
            np.cos(tilt) * level - np.sin(tilt) * down,
            np.sin(tilt) * level + np.cos(tilt) * down,
        ]
    )


def orientations_of(fixtures: Sequence[Fixture], counts: Sequence[int]) -> Orientations | None:
    """Return the Orientations of fixtures; None where all hang level and send alike all round.

    `counts` how many emitters each fixture has.
    """
    if all(f.tilt_deg == 0 and f.optic is None for f in fixtures):
        return None
    axes = np.repeat([frame(f.turn_deg, tilt_deg=f.tilt_deg) for f in fixtures], counts, axis=0)
    ends = np.cumsum(counts)
    owns = [slice(int(end - many), int(end)) for end, many in zip(ends, counts, strict=True)]
    optics = tuple((f.optic, own) for f, own in zip(fixtures, owns, strict=True))
    return Orientations(axes[:, 0], axes[:, 1], axes[:, 2], optics)
