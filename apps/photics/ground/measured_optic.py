"""A fixture's own measured distribution, as what it sends for 1 of its model intensity.

The model intensity (`optics.intensity_distribution`) of the beam that is nearest to a measured
fixture stays: its width, edge and spill are what readings correct. The measured rays are kept as
their ratio to it, so at the fixture's nominal state the field follows the file, and a correction
of the model intensity corrects the file's rays alike.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from apps.photics.ground.arrays import FloatArray, IntArray, RealArray

# Angles from the fixture's axis and turns about it at which the ratio is kept [degrees]: chosen,
# because files are seldom listed in finer steps.
ANGLE_STEP_DEG, TURN_STEP_DEG = 2.0, 15.0
ANGLES_DEG = np.arange(0.0, 90.0 + ANGLE_STEP_DEG, ANGLE_STEP_DEG)
TURNS_DEG = np.arange(0.0, 360.0, TURN_STEP_DEG)
# Chosen, because logs need a trace of light where the file is dark; and far out, where the model
# intensity vanishes, a ratio means nothing [1].
LEAST, MOST = 3e-4, 50.0
# Sides that differ by less are alike [1]: chosen, because a meter shows no less.
ALIKE = 0.02


@dataclass(frozen=True)
class MeasuredOptic:
    """Measured over model intensity, both of one downward flux.

    `ratio` holds rows of values at ANGLES_DEG: one row for an optic all round, else one for each
    of TURNS_DEG, counted from the fixture's length toward its width [1].
    """

    ratio: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        if len(self.ratio) not in (1, len(TURNS_DEG)):
            raise ValueError("A measured optic has one row, or one for each turn.")
        if any(len(row) != len(ANGLES_DEG) for row in self.ratio):
            raise ValueError(f"Each row of a measured optic has {len(ANGLES_DEG)} angles.")
        if not ((self.table >= LEAST) & (self.table <= MOST)).all():
            raise ValueError(f"The values of a measured optic lie between {LEAST:g} and {MOST:g}.")

    @cached_property
    def table(self) -> FloatArray:
        """Return the ratio at turns, the first one again at the end, and angles (t, a) [1]."""
        rows = np.array(self.ratio, float)
        return np.concatenate([rows, rows[:1]])

    @cached_property
    def _hash(self) -> int:
        return hash(self.ratio)

    def __hash__(self) -> int:
        # Fixtures are keys wherever light is remembered; thousands of numbers are hashed once.
        return self._hash

    def is_mirrored(self, axis: int) -> bool:
        """Return whether it sends alike to both sides along an axis.

        `axis` 0 for the fixture's length, 1 for its width. Alike is within ALIKE.
        """
        if len(self.ratio) == 1:
            return True
        turns = np.arange(len(TURNS_DEG))
        other = (len(TURNS_DEG) // 2 - turns if axis == 0 else -turns) % len(TURNS_DEG)
        rows = self.table[:-1]
        return bool(np.allclose(rows, rows[other], rtol=ALIKE, atol=ALIKE))

    def mean_ratio(self, angles_rad: RealArray) -> FloatArray:
        """Return the ratio averaged over all turns, of the shape of the angles [1].

        `angles_rad` from the fixture's axis [rad]; beyond a right angle the last value holds.
        """
        mean: FloatArray = self.table[:-1].mean(axis=0)
        ratio: FloatArray = np.interp(np.degrees(angles_rad), ANGLES_DEG, mean)
        return ratio

    def look_up(
        self, angle_deg: RealArray, *, turn_deg: RealArray
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return the ratio [1] and its derivatives by angle and turn [1/degree], of one shape.

        `angle_deg` from the fixture's axis and `turn_deg` about it, one shape [degrees]. Bilinear
        between its nodes, chosen, because it is the simplest without a step; angles are held
        between 0 and 90 degrees, turns go round.
        """
        column, along = cell(
            np.clip(angle_deg, 0.0, 90.0), step=ANGLE_STEP_DEG, cells=len(ANGLES_DEG) - 1
        )
        if len(self.ratio) == 1:
            low, high = self.table[0][column], self.table[0][column + 1]
            return low + along * (high - low), (high - low) / ANGLE_STEP_DEG, 0.0 * along
        row, across = cell(np.mod(turn_deg, 360.0), step=TURN_STEP_DEG, cells=len(TURNS_DEG))
        near = self.table[row, column], self.table[row, column + 1]
        far = self.table[row + 1, column], self.table[row + 1, column + 1]
        low, high = (n + across * (f - n) for n, f in zip(near, far, strict=True))
        start, end = (n + along * (m - n) for n, m in (near, far))
        return (
            low + along * (high - low),
            (high - low) / ANGLE_STEP_DEG,
            (end - start) / TURN_STEP_DEG,
        )


def cell(at: RealArray, *, step: float, cells: int) -> tuple[IntArray, RealArray]:
    """Return the number of the cell of a regular grid that values lie in, and how far in [1].

    `at` of any shape, zero or more, in the unit of `step`, the width of each of the `cells`; beyond
    the last cell its number stays and the distance goes on.
    """
    place = at / step
    number = np.minimum(place.astype(np.int32), cells - 1)
    return number, place - number


def measured_optic(intensity: FloatArray, model: FloatArray) -> MeasuredOptic:
    """Return the MeasuredOptic of a measured intensity beside the model it is fitted with.

    `intensity` (a, t) at ANGLES_DEG and TURNS_DEG, `model` (a,) at ANGLES_DEG, each in any unit and
    zero or more. Raises ValueError where no light goes down. Our own choice: a ratio to the model
    lets one correction serve both.
    """
    weight = np.sin(np.radians(ANGLES_DEG))
    flux, model_flux = weight @ intensity.mean(axis=1), weight @ model
    if not flux > 0:
        raise ValueError("This fixture sends no light down.")
    ratio = intensity / flux / (model / model_flux)[:, None]
    # Level with its face the model is dark, and a ratio means nothing.
    ratio[-1] = ratio[-2]
    rows = np.clip(ratio, LEAST, MOST).T
    rows = rows[:1] if np.allclose(rows, rows[0], rtol=2e-3, atol=1e-3) else rows
    # Four digits are more than any file measures.
    return MeasuredOptic(tuple(tuple(float(f"{value:.4g}") for value in row) for row in rows))
