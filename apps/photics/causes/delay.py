"""How long after the light an effect may show: stated before any note is looked at."""

import numpy as np

from apps.photics.ground.arrays import FloatArray

# Weeks between the light and what is seen [weeks]. Our own choice: corals shift their pigments over
# weeks, and after six a change of light is what they are used to.
DELAY_WEEKS = (0, 1, 2, 3, 4, 5, 6)
# How far each delay is expected [1], in notes of one tank and of several. Chosen, because with less
# on three weeks an effect so late is found less than half as often as a prompt one, and with more a
# prompt one is lost too often (worlds of tests/benchmarks/bench_association.py); notes of several
# tanks say more of a delay by themselves. Weeks beside these two share their light with them.
ONE_TANK = np.array((0.79, 0.001, 0.003, 0.2, 0.003, 0.002, 0.001))
SEVERAL_TANKS = np.array((0.865, 0.005, 0.01, 0.1, 0.01, 0.005, 0.005))


def kernel(n_tanks: int) -> FloatArray:
    """Return how far each of DELAY_WEEKS is expected [1], (7,), in notes of `n_tanks` tanks.

    >>> float(kernel(1)[3]), float(kernel(2)[3])
    (0.2, 0.1)
    """
    return ONE_TANK if n_tanks == 1 else SEVERAL_TANKS
