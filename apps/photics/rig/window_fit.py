"""How bright a tank's window is: the PAR that readings make likeliest, near what is said of it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol, TypeVar

import numpy as np

from apps.photics.ground.scene import Tank, Window

# How far a window's PAR may be from what is said of it [log]: chosen, because the sun moves and it
# is told by one reading. The factors tried on the way to the likeliest [log], evenly spaced.
DEVIATION = 0.4
FACTORS = (-0.8, -0.4, 0.0, 0.4, 0.8)


class Weighed(Protocol):
    """A fit whose evidence compares it with others on the same readings."""

    @property
    def evidence(self) -> float:
        """Return the log of how probable the readings are under the fit [1]."""
        ...


Fit = TypeVar("Fit", bound=Weighed)


def likeliest_window(tank: Tank, window: Window, fitted: Callable[[Tank, Fit | None], Fit]) -> Fit:
    """Return the fit under the window's likeliest PAR.

    `fitted(tank, start)` fits a tank with its window as bright as it says, going on from an
    earlier fit where there is one. A few factors are tried, then the top of the parabola through
    the best three, where it lies among them.
    """

    def bright(log_factor: float) -> Tank:
        par = window.par_umol * float(np.exp(log_factor))
        return replace(tank, window=replace(window, par_umol=par))

    def belief(log_factor: float) -> float:
        return tried[log_factor].evidence - 0.5 * (log_factor / DEVIATION) ** 2

    stated = fitted(tank, None)
    tried = {factor: stated if factor == 0.0 else fitted(bright(factor), stated)
             for factor in FACTORS}  # fmt: skip
    beliefs = [belief(factor) for factor in FACTORS]
    middle = min(max(int(np.argmax(beliefs)), 1), len(beliefs) - 2)
    low, top, high = beliefs[middle - 1 : middle + 2]
    bend = low - 2.0 * top + high
    if bend < 0.0:
        aside = float(np.clip(0.5 * (low - high) / bend, -1.0, 1.0))
        at = FACTORS[middle] + (FACTORS[1] - FACTORS[0]) * aside
        tried[at] = fitted(bright(at), stated)
    return tried[max(tried, key=belief)]
