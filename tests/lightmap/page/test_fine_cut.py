"""Finer nodes where lines pass: worked out there, none smoothed, no island that the light lacks."""

import contourpy
import numpy as np
import pytest

from apps.lightmap.page.fine_cut import beside_lines, refined
from apps.photics.ground.estimate import Estimate, GridEstimate

LEVEL = 100.0


class Known:
    """A light that is known everywhere, and counts the points it is asked for."""

    def __init__(self, par):
        self.par, self.points = par, 0

    def at(self, points_cm):
        self.points += len(points_cm)
        par = self.par(points_cm[:, 0], points_cm[:, 1])
        flags = np.zeros(len(par), bool)
        return Estimate(par, 0.9 * par, 1.1 * par, flags, flags)

    def grid(self, count):
        axis = np.linspace(0.0, 40.0, count)
        x, y = np.meshgrid(axis, axis)
        light = self.at(np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1))
        self.points = 0
        return GridEstimate(axis, axis, 0.0, *(v.reshape(x.shape) for v in vars(light).values()))


def lines(cut, level=LEVEL):
    return contourpy.contour_generator(cut.x_cm, cut.y_cm, cut.par_umol).lines(level)


def ridge(x, y):
    """A narrow slanted ridge that coarse nodes meet only here and there: one island, not three."""
    across = (x - y) / np.sqrt(2)
    along = (x + y - 40) / np.sqrt(2)
    return 90 + 16 * np.exp(-(across**2) / 8) * np.exp(-(along**2) / 200)


def test_a_ridge_between_nodes_is_one_island():
    light = Known(ridge)
    coarse = light.grid(12)
    assert len(lines(coarse)) > 1
    assert len(lines(refined(light, coarse, [LEVEL]))) == 1


def test_nodes_beside_a_line_are_those_of_the_light_itself():
    light = Known(lambda x, y: 60 + x + 10 * np.sin(y / 3))
    coarse = light.grid(14)
    fine, near = refined(light, coarse, [LEVEL]), beside_lines(coarse.par_umol, [LEVEL])
    x, y = np.meshgrid(fine.x_cm, fine.y_cm)
    assert fine.par_umol[near] == pytest.approx(light.par(x, y)[near])
    assert fine.low_umol[near] == pytest.approx(0.9 * fine.par_umol[near])


def test_only_where_a_line_passes_is_anything_worked_out():
    light = Known(lambda x, y: 60 + 2 * x)
    coarse = light.grid(21)
    refined(light, coarse, [LEVEL])
    # One column of cells of twenty, three new nodes for each and those at their sides.
    assert 0 < light.points <= 3 * 3 * 21
    light.points = 0
    assert refined(light, coarse, [500.0]).par_umol.max() == coarse.par_umol.max()
    assert light.points == 0


def test_the_edge_of_a_shadow_stays_an_edge():
    light = Known(lambda x, y: np.where(x < 21.7, 150.0, 20.0))
    fine = refined(light, light.grid(21), [LEVEL])
    # Coarse nodes lie 2 cm apart, new ones 1 cm: the fall now lies within one of those.
    steep = np.abs(np.diff(fine.par_umol[20])) > 1.0
    assert steep.sum() == 1 and np.diff(fine.x_cm)[steep][0] == pytest.approx(1.0)
