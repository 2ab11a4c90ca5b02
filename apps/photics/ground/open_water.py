"""Where in a tank a probe can be held."""

from collections.abc import Sequence

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.scene import Rock, Tank, solids

# How far from glass and rock a probe is held [cm]: chosen for a sensor's head on a stick.
CLEAR_CM = 4.0
# How far a place that is proposed lies from glass and rock, and those beside a coral from it [cm]:
# chosen, so that a hand that slips by the width of a sensor touches nothing.
PROBE_CLEAR_CM, BESIDE_CM = 5.0, 8.0


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


def probe_places(
    tank: Tank,
    rocks: Sequence[Rock],
    per_axis: tuple[int, int, int],
    near_cm: FloatArray | None = None,
) -> FloatArray:
    """Return places that a probe let down from the surface reaches, well clear of glass, (k, 3).

    They lie PROBE_CLEAR_CM from panes, bottom and rock, and no rock lies above them: our own
    choice. A grid, so many along each axis, and the places beside spots near_cm (m, 3) that
    matter most [cm].
    """
    sizes = np.array([tank.length_cm, tank.width_cm, tank.depth_cm])
    clear = np.minimum(PROBE_CLEAR_CM, sizes / 4.0)
    axes = [np.linspace(c, s - c, many) for c, s, many in zip(clear, sizes, per_axis, strict=True)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    if near_cm is not None and len(near_cm):
        points = np.vstack([beside(near_cm), points])
    points = points[((points >= clear) & (points <= sizes - clear)).all(axis=1)]
    if not tank.is_box:
        points = points[tank.rim.inside_cm(*points[:, :2].T) >= PROBE_CLEAR_CM]
    for rock in solids(tank, rocks):
        across, down = away_from(rock, points)
        under = (across < PROBE_CLEAR_CM) & (points[:, 2] > rock.depth_cm)
        points = points[(np.hypot(across, down) >= PROBE_CLEAR_CM) & ~under]
    return points


def beside(spots_cm: FloatArray) -> FloatArray:
    """Return places round spots (m, 3), at their depth, (8 m, 3) [cm]."""
    turns = np.arange(8) * np.pi / 4.0
    steps = BESIDE_CM * np.column_stack([np.cos(turns), np.sin(turns), np.zeros(8)])
    return (np.asarray(spots_cm, float)[:, None] + steps).reshape(-1, 3)


def away_from(rock: Rock, points_cm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far points (m, 3) lie from a rock's box, across and up or down, (m,) [cm]."""
    low = np.array([rock.x_cm, rock.y_cm, rock.depth_cm])
    high = low + np.array([rock.length_cm, rock.width_cm, rock.height_cm])
    gap = np.maximum(np.maximum(low - points_cm, points_cm - high), 0.0)
    return np.hypot(gap[:, 0], gap[:, 1]), gap[:, 2]
