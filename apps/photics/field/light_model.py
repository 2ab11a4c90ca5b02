"""What stands behind a light field: log PAR anywhere and how sure that is, by one model or several.

Fitted, forecast, planned and rescaled models differ in what else they know; each Protocol says
what is asked of one. A Mixture holds several models of one light, weighed together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar, runtime_checkable

import numpy as np

from apps.photics.ground.arrays import FloatArray, RealArray
from apps.photics.rig.calibration import Calibrated
from apps.photics.rig.changed_optic import RefittedRig
from apps.photics.rig.rig import Rig


class LightModel(Protocol):
    """Log PAR at any point, with its standard deviation."""

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        ...


class RigModel(LightModel, Protocol):
    """A LightModel that rests on a rig at parameters: fitted, forecast or planned."""

    @property
    def rig(self) -> Rig | RefittedRig:
        """Return the rig."""
        ...

    @property
    def theta(self) -> FloatArray:
        """Return its parameters, (p,)."""
        ...


class FittedModel(LightModel, Protocol):
    """A LightModel that rests on readings."""

    def leave_one_out(self) -> tuple[FloatArray, FloatArray]:
        """Return misfit of each reading against the others and its deviation, both (n,) [log]."""
        ...


@runtime_checkable
class SharpenedModel(LightModel, Protocol):
    """A LightModel that a further reading would make surer."""

    def posterior_covariance(self, points_cm: FloatArray) -> FloatArray:
        """Return the covariance of log PAR between points (m, 3), (m, m) [log squared]."""
        ...

    def noise_at(self, points_cm: FloatArray) -> FloatArray:
        """Return the noise variance of a reading of log PAR at points (m, 3), (m,) [1]."""
        ...


Fit = TypeVar("Fit", bound=RigModel, covariant=True)


@dataclass(frozen=True)
class Mixture(Generic[Fit]):
    """Models of one light, most likely first; their weights (k,) [1] sum to 1."""

    models: tuple[Fit, ...]
    weights: FloatArray

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        return self.join([model.predict(points_cm) for model in self.models])

    def leave_one_out(self: "Mixture[Calibrated]") -> tuple[FloatArray, FloatArray]:
        """Return misfit of each reading against the others and its deviation, both (n,) [log]."""
        mean, deviation = self.join([model.leave_one_out() for model in self.models])
        return mean, deviation

    def join(self, pairs: Sequence[tuple[RealArray, RealArray]]) -> tuple[FloatArray, FloatArray]:
        """Return mean and deviation of the mixture of normals: spread within and between.

        pairs: mean and deviation by each model, all arrays (m,) in one unit. By the law of total
        variance.
        """
        mean = np.array([pair[0] for pair in pairs])
        variance = np.array([pair[1] for pair in pairs]) ** 2
        middle = self.weights @ mean
        return middle, np.sqrt(self.weights @ (variance + (mean - middle) ** 2))
