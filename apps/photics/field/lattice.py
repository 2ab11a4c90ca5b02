"""The field on a lattice, read off by cubic splines: many points at the price of a few."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline, NdBSpline, make_interp_spline

# Nodes are about this far apart [cm], as the light's kinks near the panes are a few centimetres
# wide; further where the box would need more than MOST_NODES, which bounds the time it takes.
NODE_CM = 3.0
WIDEN = 1.08
FEWEST, MOST_NODES = 12, 6500
ORDER = 3


def lattice_axes(size_cm, most):
    """Return nodes along each axis of a box of size (3,), three arrays [cm]; `most` in all."""
    pitch = NODE_CM
    while True:
        many = [max(FEWEST, round(side / pitch) + 1) for side in size_cm]
        if np.prod(many) <= most:
            break
        pitch *= WIDEN
    # Close under a fixture the light changes fastest.
    crowd = (1.0, 1.0, 1.25)
    return [
        side * np.linspace(0.0, 1.0, n) ** c
        for side, n, c in zip(size_cm, many, crowd, strict=True)
    ]


@dataclass(frozen=True)
class Lattice:
    """Mean and log deviation of log PAR as one tensor spline."""

    spline: NdBSpline
    size_cm: np.ndarray

    def predict(self, points_cm):
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,)."""
        values = self.spline(np.clip(points_cm, 0.0, self.size_cm))
        return values[:, 0], np.exp(values[:, 1])

    def cut(self, x_cm, y_cm, depth_cm):
        """Return mean and deviation on the grid of three axes, both (nx, ny, nz)."""
        values = self.spline.c
        for axis, at in enumerate((x_cm, y_cm, depth_cm)):
            basis = design(self.spline.t[axis], np.clip(at, 0.0, self.size_cm[axis]))
            values = np.moveaxis(np.tensordot(basis, values, axes=(1, axis)), 0, axis)
        return values[..., 0], np.exp(values[..., 1])


def design(knots, at):
    """Return the values of every basis spline at points, (m, coefficients)."""
    return BSpline(knots, np.eye(len(knots) - ORDER - 1), ORDER)(at)


def build_lattice(model, tank):
    """Evaluate a model on the lattice of a tank and return it as a Lattice."""
    size = np.array([tank.length_cm, tank.width_cm, tank.depth_cm], float)
    # Several guessed rigs take their time each, and know the light less well than nodes would.
    rigs = len(getattr(model, "models", (model,)))
    axes = lattice_axes(size, max(MOST_NODES * 1.5 / (rigs + 0.5), FEWEST**3))
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    # Single precision is far finer than a spline between nodes, and twice as fast.
    mean, deviation = model.predict(points.astype(np.float32))
    values = np.stack([mean, np.log(np.maximum(deviation, 1e-9))], axis=-1)
    values = values.reshape(*(len(axis) for axis in axes), 2)
    knots = []
    for axis, nodes in enumerate(axes):
        spline = make_interp_spline(nodes, values, k=ORDER, axis=axis)
        values = np.moveaxis(spline.c, 0, axis)
        knots.append(spline.t)
    return Lattice(NdBSpline(tuple(knots), values, ORDER), size)
