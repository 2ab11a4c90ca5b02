"""A fixture's photometry: intensity in every direction, its flux, and its use as an optic.

Directions are told by the angle from straight down (`nadir_deg`, 0 to 180) and the turn about the
plumb line (`turn_deg`, 0 along the 0-degree plane of the file). The luminous opening is told in
the same frame: `along_cm` in the 0-180 plane, `across_cm` in the 90-270 plane.
"""

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np

from apps.photics import limits

# Grid on which beams are read off, fine against any measured file [degrees].
PROFILE_STEP_DEG = 0.25
PROFILE_TURNS_DEG = np.arange(0, 360, 7.5)


class Opening(NamedTuple):
    """The luminous opening: its extents [cm], 0 for a point, and "point", "rectangle", "round"."""

    along_cm: float
    across_cm: float
    height_cm: float
    shape: str


class Tilt(NamedTuple):
    """How a lamp's output changes when the fixture is tilted; 1 where it hangs level."""

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
    vertical_deg: np.ndarray
    horizontal_deg: np.ndarray
    candela: np.ndarray
    opening: Opening
    lamp_lumens: float | None
    watts: float
    keywords: tuple[tuple[str, str], ...] = ()
    source: str = ""
    tilt: Tilt | None = None
    notes: tuple[str, ...] = field(default=())

    def __post_init__(self):
        for name in ("vertical_deg", "horizontal_deg", "candela"):
            array = np.array(getattr(self, name), float)
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    @property
    def symmetry(self):
        """How many times the measured angles repeat to fill the sphere [1]; 0 for all round."""
        if self.kind != "C":
            vertical, horizontal = self.vertical_deg[0] >= 0, self.horizontal_deg[0] >= 0
            return (2 if vertical else 1) * (2 if horizontal else 1)
        span = self.horizontal_deg[-1] - self.horizontal_deg[0]
        return round(360 / span) if span else 0

    @cached_property
    def flux_lm(self):
        """Flux of the measured intensities [lm].

        Mean of the intensities at the corners of each cell times the solid angle of the cell
        (IES zonal method). A cosine lobe telescopes to its exact flux at any step; integrating
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
    def peak_candela(self):
        return float(self.candela.max())

    def intensity(self, nadir_deg, turn_deg=0.0):
        """Return the intensity toward directions, arrays that broadcast [cd]."""
        nadir, turn = np.broadcast_arrays(np.asarray(nadir_deg, float), np.asarray(turn_deg, float))
        vertical, horizontal = self._file_angles(nadir, turn)
        return between(self.vertical_deg, self.horizontal_deg, self.candela, vertical, horizontal)[
            ()
        ]

    def _file_angles(self, nadir_deg, turn_deg):
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

    def per_sr(self, nadir_deg, turn_deg=0.0):
        """Return the share of the fixture's flux per solid angle [1/sr].

        Times a photon flux [umol/s] it is the photon intensity of an optic with this shape: the
        shape is taken to be the same for photons as for lumens.
        """
        return self.intensity(nadir_deg, turn_deg) / self.flux_lm

    @cached_property
    def downward(self):
        """Angles from nadir to level (k,) [degrees] and the mean intensity round each [cd]."""
        angles = np.arange(0, 90 + PROFILE_STEP_DEG / 2, PROFILE_STEP_DEG)
        return angles, self.intensity(angles[:, None], PROFILE_TURNS_DEG).mean(axis=1)

    def beam_deg(self, plane_deg=None):
        """Return the full width at half of the peak [degrees]; None for no light downward.

        Of the mean over all turns, or in one plane (both halves of it). A beam with a dark middle
        counts to its outer edge; 180 when it never falls to half.
        """
        if plane_deg is None:
            return full_width(*self.downward, peak=self.downward[1].max())
        angles = self.downward[0]
        sides = [self.intensity(angles, plane_deg + half) for half in (0.0, 180.0)]
        peak = max(side.max() for side in sides)
        widths = [full_width(angles, side, peak=peak) for side in sides]
        return None if None in widths else sum(widths) / 2

    @cached_property
    def equivalent_beam_deg(self):
        """Beam of the cos^m lobe whose downward light leans as far from the plumb line [degrees].

        The mean cosine of a cos^m lobe is (m + 1) / (m + 2); its width at half maximum is
        2 acos(0.5 ^ (1 / m)). Held within the bounds of a beam; None for no light downward.
        """
        angles, profile = self.downward
        cosine = np.cos(np.radians(angles))
        weight = (profile[:-1] + profile[1:]) / 2 * -np.diff(cosine)
        if not weight.sum() > 0:
            return None
        mean = float(weight @ ((cosine[:-1] + cosine[1:]) / 2) / weight.sum())
        if mean >= 1 - 1e-9:
            return limits.BEAM_MIN_DEG
        exponent = max((2 * mean - 1) / (1 - mean), 1e-3)
        beam = 2 * math.degrees(math.acos(0.5 ** (1 / exponent)))
        return min(max(beam, limits.BEAM_MIN_DEG), limits.BEAM_MAX_DEG)


def zonal_constants(vertical_deg):
    """Return the solid angles of the zones between angles (n,) from nadir, (n - 1,) [sr].

    >>> zonal_constants([0, 10]).round(4).tolist()
    [0.0955]
    """
    return 2 * np.pi * np.abs(np.diff(np.cos(np.radians(vertical_deg))))


def fold_turn(turn_deg, measured_deg):
    """Return turns [degrees] folded into the measured planes of type C by their symmetry."""
    first, last = measured_deg[0], measured_deg[-1]
    turn = np.mod(turn_deg, 360.0)
    if first == last:
        return np.full_like(turn, first)
    if last - first > 180:
        return turn
    if first > 0:  # 90 to 270, mirrored about that plane
        return np.where((turn < first) | (turn > last), np.mod(180 - turn, 360), turn)
    turn = np.minimum(turn, 360 - turn)
    return np.minimum(turn, 180 - turn) if last <= 90 else turn


def between(vertical_deg, horizontal_deg, values, vertical, horizontal):
    """Return `values` (nh, nv) straight between their angles; 0 beyond them.

    The points `vertical`, `horizontal` are arrays of one shape [degrees].
    """
    row, across = place(horizontal_deg, horizontal)
    column, along = place(vertical_deg, vertical)
    next_row = np.minimum(row + 1, len(horizontal_deg) - 1)
    near = values[row, column] * (1 - along) + values[row, column + 1] * along
    far = values[next_row, column] * (1 - along) + values[next_row, column + 1] * along
    # A degree's billionth: a right angle that came out of an arctangent is still inside.
    inside = (vertical >= vertical_deg[0] - 1e-9) & (vertical <= vertical_deg[-1] + 1e-9)
    if len(horizontal_deg) > 1:
        inside &= (horizontal >= horizontal_deg[0] - 1e-9) & (
            horizontal <= horizontal_deg[-1] + 1e-9
        )
    return np.where(inside, near * (1 - across) + far * across, 0.0)


def place(angles, at):
    """Return for each point the index of the angle before it and the share of the way on."""
    if len(angles) == 1:
        return np.zeros(np.shape(at), int), np.zeros(np.shape(at))
    index = np.clip(np.searchsorted(angles, at, side="right") - 1, 0, len(angles) - 2)
    share = (at - angles[index]) / (angles[index + 1] - angles[index])
    return index, np.clip(share, 0, 1)


def full_width(angles, profile, *, peak):
    """Return twice the outermost angle where a profile falls to half of `peak` [degrees]."""
    if not peak > 0:
        return None
    bright = np.flatnonzero(profile >= peak / 2)
    if not len(bright):
        return 0.0
    last = bright[-1]
    if last == len(angles) - 1:
        return 180.0
    drop = (profile[last] - peak / 2) / (profile[last] - profile[last + 1])
    return float(2 * (angles[last] + drop * (angles[last + 1] - angles[last])))
