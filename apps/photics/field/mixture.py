"""Several fitted models of one light, weighed together."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Mixture:
    """Models with `predict` and `leave_one_out`; weights sum to 1, most likely first."""

    models: tuple
    weights: np.ndarray

    def predict(self, points_cm):
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,)."""
        return self.join([model.predict(points_cm) for model in self.models])

    def leave_one_out(self):
        """Return misfit of each reading against the others and its deviation, both (n,)."""
        return self.join([model.leave_one_out() for model in self.models])

    def join(self, pairs):
        """Return mean and deviation of the mixture of normals: spread within and between."""
        mean = np.array([pair[0] for pair in pairs])
        variance = np.array([pair[1] for pair in pairs]) ** 2
        middle = self.weights @ mean
        return middle, np.sqrt(self.weights @ (variance + (mean - middle) ** 2))
