"""What a fixture sends toward a ray that does not leave it round its plumb line.

A tilted face has its axis off the plumb line, and a measured optic may send more to one side than
to the other. Both ask for the ray's way as the fixture sees it: the cosine of the angle from its
axis and the turn about it. Fixtures that hang level with a lobe all round need none of this.
"""

from dataclasses import dataclass

import numpy as np

# A ray that leaves behind the face meets this cosine, and no light [1].
BEHIND = 1e-6
# Straight along the axis every turn is the same, and the angle has no slope [1].
SINE_FLOOR = 1e-4


@dataclass(frozen=True)
class Aim:
    """The frames of emitters' fixtures in the tank's: parts in x, y and down, (e, 3) each.

    `along` lies in the lit face along its length, `across` along its width, `axis` points where
    the fixture shines.
    """

    along: np.ndarray
    across: np.ndarray
    axis: np.ndarray
    optics: tuple  # (a fixture's MeasuredOptic or None, its emitters as a slice), all fixtures

    def sight(self, course):
        """Return the Sight of rays (k, e) by their Course."""
        slope, cos = course.slope, course.cos
        unit = 1.0 / np.maximum(course.away, 1e-9)
        x, y, cos3, sine = course.dx * unit, course.dy * unit, cos * cos * cos, slope * cos
        return Sight(
            self,
            (x * sine, y * sine, cos),
            (x * cos3, y * cos3, -slope * cos3),
            (-y * sine, x * sine, np.zeros_like(cos)),
        )


@dataclass(frozen=True)
class Sight:
    """Rays as their fixtures see them; ways of three parts (k, e) in x, y and down."""

    aim: Aim
    way: tuple
    steeper: tuple  # how the way turns with the ray's slope
    round: tuple  # and with its azimuth

    def cosine(self):
        """Return the cosine from each fixture's axis, below zero behind its face (k, e)."""
        return along_axes(self.aim.axis, self.way)

    def chained(self, by_cosine):
        """Return derivatives by slope and azimuth from one by the cosine from the axis."""
        axis = self.aim.axis
        return tuple(by_cosine * along_axes(axis, way) for way in (self.steeper, self.round))

    def measured(self):
        """Return the ratio of measured optics, and its log's derivatives by slope and azimuth."""
        blank = np.zeros_like(self.way[2])
        found = blank + 1.0, blank.copy(), blank
        for optic, own in self.aim.optics:
            if optic is not None:
                for whole, part in zip(found, self.measured_by(optic, own), strict=True):
                    whole[:, own] = part
        return found

    def measured_by(self, optic, own):
        """Return what `measured` does, for the emitters of one fixture."""
        axes = [axes[own] for axes in (self.aim.along, self.aim.across, self.aim.axis)]

        def seen(way):
            return [along_axes(axis, [part[:, own] for part in way]) for axis in axes]

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
        return ratio, *slopes


def along_axes(axes, way):
    """Return the parts of ways, three arrays (k, e), along axes (e, 3)."""
    axes = axes.astype(way[2].dtype)
    return axes[:, 0] * way[0] + axes[:, 1] * way[1] + axes[:, 2] * way[2]


def frame(turn_deg, tilt_deg):
    """Return the unit axes along, across and axis of a lit face, (3, 3) in x, y and down.

    Turned about the plumb line first; then tilted about its own length, above zero so that it
    shines toward where its width points: to the back when it is not turned.

    >>> [round(float(part), 3) for part in frame(0, 30)[2]]
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


def aim_of(fixtures, counts):
    """Return the Aim of fixtures with so many emitters each; None where all hang plainly."""
    if all(f.tilt_deg == 0 and f.optic is None for f in fixtures):
        return None
    axes = np.repeat([frame(f.turn_deg, f.tilt_deg) for f in fixtures], counts, axis=0)
    ends = np.cumsum(counts)
    owns = [slice(int(end - many), int(end)) for end, many in zip(ends, counts, strict=True)]
    optics = tuple((f.optic, own) for f, own in zip(fixtures, owns, strict=True))
    return Aim(axes[:, 0], axes[:, 1], axes[:, 2], optics)
