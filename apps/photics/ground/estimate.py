"""The answers a light field gives, as plain frozen records."""

from dataclasses import dataclass

from apps.photics.ground.arrays import BoolArray, FloatArray


class NotEnoughReadings(ValueError):
    """The readings cannot carry a map; the message says why in one plain sentence."""


@dataclass(frozen=True)
class Estimate:
    """PAR with its 90 % interval at points of the water, arrays of one shape [umol m-2 s-1]."""

    par_umol: FloatArray
    low_umol: FloatArray
    high_umol: FloatArray
    extrapolated: BoolArray  # True where the point lies beyond what the readings span
    # True within a rock as it was described, where no sensor and no coral can be.
    in_rock: BoolArray


@dataclass(frozen=True)
class GridEstimate:
    """The field on a level cut at one depth, arrays of shape (ny, nx) [umol m-2 s-1]."""

    x_cm: FloatArray  # (nx,)
    y_cm: FloatArray  # (ny,)
    depth_cm: float
    par_umol: FloatArray
    low_umol: FloatArray
    high_umol: FloatArray
    extrapolated: BoolArray
    in_rock: BoolArray


@dataclass(frozen=True)
class SectionEstimate:
    """The field on an upright cut along the length, arrays of shape (nz, nx) [umol m-2 s-1]."""

    x_cm: FloatArray  # (nx,)
    depth_cm: FloatArray  # (nz,)
    y_cm: float
    par_umol: FloatArray
    low_umol: FloatArray
    high_umol: FloatArray
    extrapolated: BoolArray
    in_rock: BoolArray


@dataclass(frozen=True)
class Parameter:
    """One thing the fit estimated, in plain words, with its 90 % interval, in its own `unit`."""

    name: str
    value: float
    low: float
    high: float
    unit: str


@dataclass(frozen=True)
class Disagreement:
    """A reading that does not fit the rest: look at it again before trusting either."""

    index: int  # place in the readings as given
    measured_umol: float
    expected_umol: float
    ratio: float  # measured / expected


@dataclass(frozen=True)
class FieldSummary:
    """How the field was made and how far to trust it.

    The leave-one-out array (n,) follows the readings as given: what the others predict there [umol
    m-2 s-1].
    """

    method: str
    typical_error_percent: float
    loo_par_umol: FloatArray
    parameters: tuple[Parameter, ...]
    disagreeing: tuple[Disagreement, ...]
    notes: tuple[str, ...]
    # Readings over what those of other surveys foresee, where that is more than chance [1].
    against_others: float | None = None
