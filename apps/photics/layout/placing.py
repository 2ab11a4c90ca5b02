"""Where in a tank a coral can sit, and how likely each place gives it the light it should have."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from apps.photics.field.light_field import HALF_WIDTH, INTERVAL_DEGREES
from apps.photics.ground.arrays import ArrayLike, FloatArray, IntArray
from apps.photics.ground.scene import Fixture, Rock, Tank, solids
from apps.photics.rig.rig import Rig

# A coral is not set closer than this to a pane [cm]: chosen, as room to grow and to clean.
PANE_CM = 3.0
# Places that are looked at, and the pitch between them at least [cm]: chosen, because a coral's own
# size hides anything finer.
PLACES_MOST = 700
PITCH_MIN_CM = 1.5
# What a place is worth falls by half for each doubling or halving of the light a coral comes
# from [1]: chosen, because a sure place after a long way may be worse than a fair one next door.
WORTH_PER_DOUBLING = 0.5
# Two places closer than this are one suggestion [share of the tank's longer side]: chosen, so that
# a keeper has different corners to choose from.
APART_SHARE = 0.12


@dataclass(frozen=True)
class Places:
    """Places on the bottom and on the rocks' tops."""

    points_cm: FloatArray  # (m, 3) in the tank's frame [cm]
    rock: IntArray  # (m,) number of the rock each lies on, -1 for the bottom
    pitch_cm: float


def resting_places(tank: Tank, rocks: Sequence[Rock], *, deepest_cm: float | None = None) -> Places:
    """Return the Places where a coral can rest: upward faces with water over them.

    A face lies in the open unless a rock covers it; under an overhang there is room, and the map
    says how dark it is there. `deepest_cm`: as far down as an arm reaches [cm].
    """
    pitch = max(PITCH_MIN_CM, float(np.sqrt(tank.length_cm * tank.width_cm / PLACES_MOST)))
    x = middles(tank.length_cm - 2 * PANE_CM, pitch_cm=pitch) + PANE_CM
    y = middles(tank.width_cm - 2 * PANE_CM, pitch_cm=pitch) + PANE_CM
    across, back = (a.ravel() for a in np.meshgrid(x, y))
    parts = [(np.stack([across, back, np.full(across.size, tank.depth_cm)], 1), -1)]
    for number, rock in enumerate(rocks):
        over = (across > rock.x_cm) & (across < rock.x_cm + rock.length_cm)
        over &= (back > rock.y_cm) & (back < rock.y_cm + rock.width_cm)
        top = np.full(int(over.sum()), rock.depth_cm)
        parts.append((np.stack([across[over], back[over], top], 1), number))
    points = np.concatenate([points for points, _ in parts])
    rock_of = np.concatenate([np.full(len(points), number) for points, number in parts])
    # Rocks stand on the bottom and on each other: a face just under one is covered.
    free = ~tank.outside(*points[:, :2].T)
    if not tank.is_box:
        free &= tank.rim.inside_cm(*points[:, :2].T) >= PANE_CM
    lifted = points - np.array([0.0, 0.0, 0.1])
    for rock in solids(tank, rocks):
        free &= ~rock.holds(*lifted.T)
    if deepest_cm is not None:
        free &= points[:, 2] <= deepest_cm
    return Places(points[free], rock_of[free], pitch)


def middles(length_cm: float, *, pitch_cm: float) -> FloatArray:
    """Return the middles (k,) of even pieces of a length [cm], about a pitch [cm] apart [cm]."""
    many = max(1, round(length_cm / pitch_cm))
    at: FloatArray = (np.arange(many) + 0.5) / many * length_cm
    return at


def chance_within(
    par_umol: ArrayLike,
    low_umol: ArrayLike,
    high_umol: ArrayLike,
    *,
    band_low_umol: float,
    band_high_umol: float,
) -> FloatArray:
    """Return the probability that the light of each place lies in a band, (m,) [1].

    `par_umol`, `low_umol`, `high_umol` (m,): a light field's estimate with its 90 % interval
    [umol m-2 s-1]; `band_low_umol`, `band_high_umol` ends of the band [umol m-2 s-1]. Its law is
    Student's in log PAR, as the interval's (`light_field.INTERVAL_DEGREES`).

    >>> chance = chance_within([100.0], [80.0], [125.0], band_low_umol=80, band_high_umol=125)
    >>> chance.round(2).tolist()
    [0.9]
    """
    par, low, high = (np.maximum(v, 1e-9) for v in map(np.asarray, (par_umol, low_umol, high_umol)))
    deviation = np.maximum(np.log(high / low) / (2.0 * HALF_WIDTH), 1e-9)
    ends = [(np.log(end / par)) / deviation for end in (band_low_umol, band_high_umol)]
    below = [student.cdf(end, INTERVAL_DEGREES) for end in ends]
    within: FloatArray = below[1] - below[0]
    return within


def rock_loss(
    points_cm: ArrayLike, *, tank: Tank, fixtures: Sequence[Fixture], rocks: Sequence[Rock]
) -> FloatArray:
    """Return the share of each place's light that rocks take away, (m,) [1].

    `points_cm` (m, 3) in the tank's frame [cm]. By the rig as described, not fitted:
    what counts is the ratio with and without rocks. Zeros without a rock or a lit fixture.
    """
    points = np.asarray(points_cm, float)
    lit = [fixture for fixture in fixtures if fixture.level > 0]
    if not lit or not rocks or not len(points):
        return np.zeros(len(points))
    light = []
    for boxes in (rocks, ()):
        rig = Rig(tank, lit, boxes)
        light.append(rig.log_light_at(points, rig.nominal())[0])
    lost: FloatArray = np.clip(1.0 - np.exp(light[0] - light[1]), 0.0, 1.0)
    return lost


def worth(chance: ArrayLike, par_umol: ArrayLike, *, from_umol: float | None = None) -> FloatArray:
    """Return what each place is worth, (m,): its chance, less for each doubling from before [1].

    `chance` (m,) [1] and `par_umol` (m,) [umol m-2 s-1] of the places; `from_umol` what a coral
    comes from [umol m-2 s-1], None where that is unknown.
    """
    chance = np.asarray(chance, float)
    if from_umol is None:
        return chance
    doublings = np.abs(np.log2(np.maximum(par_umol, 1e-9) / from_umol))
    value: FloatArray = chance * WORTH_PER_DOUBLING**doublings
    return value


def best_apart(points_cm: ArrayLike, value: ArrayLike, *, most: int, apart_cm: float) -> list[int]:
    """Return the numbers of at most `most` places of highest value, best first.

    `points_cm` (m, 3) [cm], `value` (m,) [1]; none worth nothing, none nearer than `apart_cm` [cm]
    to a better one.
    """
    points, worths = np.asarray(points_cm, float), np.asarray(value, float)
    best: list[int] = []
    for number in np.argsort(-worths, kind="stable"):
        if len(best) == most or worths[number] <= 0:
            break
        if all(np.linalg.norm(points[best] - points[number], axis=1) >= apart_cm):
            best.append(int(number))
    return best
