"""Where in a tank a probe can be held."""

from collections.abc import Sequence

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.scene import Rock, Tank, solids

# How far from glass and rock a probe is held [cm]: chosen for a sensor's head on a stick.
CLEAR_CM = 4.0


def open_grid(tank: Tank, rocks: Sequence[Rock], per_axis: tuple[int, int, int]) -> FloatArray:
    """Return a grid of places clear of glass and rocks, so many along each axis, (k, 3) [cm].

    Evenly spaced between glass and glass: our own choice.
    """
    sizes = (tank.length_cm, tank.width_cm, tank.depth_cm)
    axes = []
    for size, many in zip(sizes, per_axis, strict=True):
        clear = min(CLEAR_CM, size / 4.0)
        axes.append(np.linspace(clear, size - clear, many))
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    free = np.ones(len(points), bool)
    if not tank.is_box:
        free = tank.rim.inside_cm(*points[:, :2].T) >= CLEAR_CM / 2.0
    for rock in solids(tank, rocks):
        low = np.array([rock.x_cm, rock.y_cm, rock.depth_cm]) - CLEAR_CM / 2.0
        high = low + np.array([rock.length_cm, rock.width_cm, rock.height_cm]) + CLEAR_CM
        free &= ~((points > low) & (points < high)).all(axis=1)
    return points[free]
