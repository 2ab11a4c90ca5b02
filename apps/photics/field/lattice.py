"""The field on a lattice, read off by cubic splines: many points at the price of a few."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline, NdBSpline, make_interp_spline

from apps.photics.field.light_model import LightModel, Mixture
from apps.photics.ground.arrays import ArrayLike, FloatArray, RealArray
from apps.photics.ground.scene import Tank

# Nodes are about this far apart [cm], because the light's kinks near the panes are a few cm wide;
# further where the box would need more than MOST_NODES, which bounds the time it takes, by
# steps of a factor. The fewest nodes an axis has, and the splines' order: our own choice.
NODE_CM = 3.0
WIDEN = 1.08
FEWEST, MOST_NODES = 12, 6500
ORDER = 3
# Power by which nodes crowd along each axis [1]: chosen, because close under a fixture the light
# changes fastest.
CROWD = (1.0, 1.0, 1.25)
# What several guessed rigs leave of the nodes: MOST_NODES for one, times this over their number and
# a half [1]: chosen, because each takes its time and knows the light less well than nodes would.
RIGS_FACTOR = 1.5
# Smallest deviation that is drawn through the nodes [log]: chosen, because its log must be finite.
LEAST_DEVIATION = 1e-9


def lattice_axes(size_cm: FloatArray, most: float) -> list[FloatArray]:
    """Return nodes along each axis of a box of size_cm (3,), arrays (n,) [cm]; `most` in all."""
    pitch = NODE_CM
    while True:
        many = [max(FEWEST, round(side / pitch) + 1) for side in size_cm]
        if np.prod(many) <= most:
            break
        pitch *= WIDEN
    return [
        side * np.linspace(0.0, 1.0, n) ** c
        for side, n, c in zip(size_cm, many, CROWD, strict=True)
    ]


@dataclass(frozen=True)
class Lattice:
    """Mean and log deviation of log PAR as one tensor spline."""

    spline: NdBSpline
    size_cm: FloatArray  # (3,)

    def predict(self, points_cm: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and standard deviation of log PAR at points (m, 3), both (m,) [log]."""
        values = self.spline(np.clip(points_cm, 0.0, self.size_cm))
        return values[:, 0], np.exp(values[:, 1])

    def cut(
        self, x_cm: ArrayLike, y_cm: ArrayLike, depth_cm: ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Return mean and deviation on the grid of three axes, both (nx, ny, nz) [log].

        x_cm (nx,), y_cm (ny,), depth_cm (nz,).
        """
        values: FloatArray = self.spline.c
        bases = [
            design(knots, np.clip(at, 0.0, side))
            for knots, at, side in zip(
                self.spline.t, (x_cm, y_cm, depth_cm), self.size_cm, strict=True
            )
        ]
        # First the axis that leaves least: at one depth, a twentieth of what is to be summed.
        for axis in sorted(range(3), key=lambda axis: bases[axis].shape[0] / bases[axis].shape[1]):
            values = np.moveaxis(np.tensordot(bases[axis], values, axes=(1, axis)), 0, axis)
        return values[..., 0], np.exp(values[..., 1])


def design(knots: FloatArray, at_cm: FloatArray) -> FloatArray:
    """Return the values of every basis spline of knots (k,) [cm] at at_cm (m,), (m, c) [1]."""
    values: FloatArray = BSpline(knots, np.eye(len(knots) - ORDER - 1), ORDER)(at_cm)
    return values


def build_lattice(model: LightModel, tank: Tank) -> Lattice:
    """Evaluate a model on the lattice of a tank and return it as a Lattice."""
    size = np.array([tank.length_cm, tank.width_cm, tank.depth_cm], float)
    rigs = len(model.models) if isinstance(model, Mixture) else 1
    axes = lattice_axes(size, max(MOST_NODES * RIGS_FACTOR / (rigs + 0.5), FEWEST**3))
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    # Single precision is far finer than a spline between nodes, and twice as fast.
    mean, deviation = model.predict(points.astype(np.float32))
    values = np.stack([mean, np.log(np.maximum(deviation, LEAST_DEVIATION))], axis=-1)
    values = values.reshape(*(len(axis) for axis in axes), 2)
    knots = []
    for axis, nodes in enumerate(axes):
        spline = make_interp_spline(nodes, values, k=ORDER, axis=axis)
        values = np.moveaxis(spline.c, 0, axis)
        knots.append(spline.t)
    return Lattice(NdBSpline(tuple(knots), values, ORDER), size)
