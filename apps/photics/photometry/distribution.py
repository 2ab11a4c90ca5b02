"""A fixture's photometry: intensity in every direction, and its flux.

Directions are given by the angle from straight down (`nadir_deg`, 0 to 180) and the turn about the
plumb line (`turn_deg`, 0 along the 0-degree plane of the file). The luminous opening is given
in the same frame: `along_cm` in the 0-180 plane, `across_cm` in the 90-270 plane.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np

from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, IntArray

# Turns over which a profile is averaged [degrees]: chosen, because they are fine against any
# measured file.
PROFILE_TURNS_DEG = np.arange(0, 360, 7.5)
# Chosen, because a right angle that came out of an arctangent is still inside.
ROUNDING_DEG = 1e-9


class Opening(NamedTuple):
    """The luminous opening: its extents [cm], 0 for a point, and "point", "rectangle", "round"."""

    along_cm: float
    across_cm: float
    height_cm: float
    shape: str


class Tilt(NamedTuple):
    """How a lamp's output changes when the fixture is tilted [1]; 1 where it hangs level."""

    geometry: int  # 1 lamp upright, 2 lying and still lying when tilted, 3 lying and tilting
    angles_deg: tuple[float, ...]
    factors: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Photometry:
    """Intensities [cd] on a grid of angles, as measured; made by a reader, never by hand.

    `kind`: "C" (planes about the plumb line), "B" or "A" (floodlight and headlamp frames);
    `vertical_deg` (nv,), `horizontal_deg` (nh,) ascending [degrees]; `candela` (nh, nv) with all
    factors of the file applied; `lamp_lumens` what the bare lamps give [lm], None for absolute
    photometry; `watts` input [W]. Between angles intensity is linear; beyond them it is dark.
    """

    kind: str
    vertical_deg: FloatArray
    horizontal_deg: FloatArray
    candela: FloatArray
    opening: Opening
    lamp_lumens: float | None
    watts: float
    keywords: tuple[tuple[str, str], ...] = ()
    source: str = ""
    tilt: Tilt | None = None
    notes: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        for name in ("vertical_deg", "horizontal_deg", "candela"):
            array = np.array(getattr(self, name), float)
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    @property
    def symmetry(self) -> int:
        """How many times the measured angles repeat to fill the sphere [1]; 0 for all round."""
        if self.kind != "C":
            vertical, horizontal = self.vertical_deg[0] >= 0, self.horizontal_deg[0] >= 0
            return (2 if vertical else 1) * (2 if horizontal else 1)
        span = self.horizontal_deg[-1] - self.horizontal_deg[0]
        return round(360 / span) if span else 0

    @cached_property
    def flux_lm(self) -> float:
        """Flux of the measured intensities [lm].

        Mean of the intensities at the corners of each cell times the solid angle of the cell
        (IES zonal method). A cosine telescopes to its exact flux at any step; integrating
        the straight line between angles would lose 0.25 % at steps of 10 degrees.
        """
        vertical, horizontal = np.radians(self.vertical_deg), np.radians(self.horizontal_deg)
        if self.kind == "C":
            bands = np.abs(np.diff(np.cos(vertical)))
        elif self.kind == "A":
            bands = np.diff(np.sin(vertical))
        else:
            bands, planes = np.diff(vertical), np.diff(np.sin(horizontal))
        if self.kind == "A" or (self.kind == "C" and self.symmetry):
            planes = np.diff(horizontal)
        rows = (self.candela[:, :-1] + self.candela[:, 1:]) / 2
        if self.kind == "C" and not self.symmetry:
            return float(2 * np.pi * rows[0] @ bands)
        cells = (rows[:-1] + rows[1:]) / 2
        return float(self.symmetry * planes @ cells @ bands)

    @property
    def peak_candela(self) -> float:
        """The highest measured intensity [cd]."""
        return float(self.candela.max())

    def intensity(self, nadir_deg: ArrayLike, *, turn_deg: ArrayLike = 0.0) -> FloatArray:
        """Return the intensity toward directions, of the shape of both angles together [cd].

        `nadir_deg` from straight down, 0 to 180, and `turn_deg` about the plumb line, arrays that
        broadcast [degrees]. Linear between the file's angles, dark beyond them.
        """
        nadir, turn = np.broadcast_arrays(np.asarray(nadir_deg, float), np.asarray(turn_deg, float))
        vertical, horizontal = self._file_angles(nadir, turn)
        toward = between(
            self.candela,
            vertical_deg=self.vertical_deg,
            horizontal_deg=self.horizontal_deg,
            at_vertical=vertical,
            at_horizontal=horizontal,
        )
        # A single direction gives a single number.
        one_or_all: FloatArray = toward[()]
        return one_or_all

    def _file_angles(
        self, nadir_deg: FloatArray, turn_deg: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return the angles under which the file lists directions, folded into what it holds."""
        if self.kind == "C":
            return nadir_deg, fold_turn(turn_deg, self.horizontal_deg)
        nadir, turn = np.radians(nadir_deg), np.radians(turn_deg)
        down = np.cos(nadir)
        along, across = np.sin(nadir) * np.cos(turn), np.sin(nadir) * np.sin(turn)
        if self.kind == "A":
            vertical, horizontal = np.arcsin(np.clip(across, -1, 1)), np.arctan2(along, down)
        else:
            vertical, horizontal = np.arctan2(across, down), np.arcsin(np.clip(along, -1, 1))
        vertical, horizontal = np.degrees(vertical), np.degrees(horizontal)
        # Angles that begin at 0 stand for both sides.
        vertical = np.abs(vertical) if self.vertical_deg[0] >= 0 else vertical
        horizontal = np.abs(horizontal) if self.horizontal_deg[0] >= 0 else horizontal
        return vertical, horizontal


def fold_turn(turn_deg: FloatArray, measured_deg: FloatArray) -> FloatArray:
    """Return turns folded into the measured planes of type C by their symmetry [degrees].

    `turn_deg` any angles, any shape, which the answer keeps; `measured_deg` (nh,) the ascending
    planes, one alone or spanning 90, 180 or 360 degrees. Plane geometry.
    """
    first, last = measured_deg[0], measured_deg[-1]
    turn: FloatArray = np.mod(turn_deg, 360.0)
    if first == last:
        return np.full_like(turn, first)
    if last - first > 180:
        return turn
    if first > 0:  # 90 to 270, mirrored about that plane
        return np.where((turn < first) | (turn > last), np.mod(180 - turn, 360), turn)
    turn = np.minimum(turn, 360 - turn)
    return np.minimum(turn, 180 - turn) if last <= 90 else turn


def between(
    values: FloatArray,
    *,
    vertical_deg: FloatArray,
    horizontal_deg: FloatArray,
    at_vertical: FloatArray,
    at_horizontal: FloatArray,
) -> FloatArray:
    """Return values straight between their angles, in their unit; 0 beyond them.

    Chosen bilinear, because it is the simplest without a step. `values` (nh, nv) at
    `horizontal_deg` (nh,) and `vertical_deg` (nv,), ascending; the points `at_vertical` and
    `at_horizontal` have one shape, which the answer keeps [degrees].
    """
    row, across = place(horizontal_deg, at_horizontal)
    column, along = place(vertical_deg, at_vertical)
    next_row = np.minimum(row + 1, len(horizontal_deg) - 1)
    near = values[row, column] * (1 - along) + values[row, column + 1] * along
    far = values[next_row, column] * (1 - along) + values[next_row, column + 1] * along
    inside = within(at_vertical, vertical_deg)
    if len(horizontal_deg) > 1:
        inside &= within(at_horizontal, horizontal_deg)
    return np.where(inside, near * (1 - across) + far * across, 0.0)


def within(at: FloatArray, angles: FloatArray) -> BoolArray:
    """Return whether points `at` lie within ascending `angles`, of their shape [degrees]."""
    inside: BoolArray = (at >= angles[0] - ROUNDING_DEG) & (at <= angles[-1] + ROUNDING_DEG)
    return inside


def place(angles: FloatArray, at: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return for each point the index of the angle before it and the part of the way on [1].

    `angles` (n,) ascending, `at` of any shape, which the answers keep, in one unit; points beyond
    the ends are held at them.
    """
    if len(angles) == 1:
        return np.zeros(np.shape(at), int), np.zeros(np.shape(at))
    index = np.clip(np.searchsorted(angles, at, side="right") - 1, 0, len(angles) - 2)
    share = (at - angles[index]) / (angles[index + 1] - angles[index])
    return index, np.clip(share, 0, 1)
