"""Where in a tank a coral can sit, and how likely each place gives it the light it should have."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from apps.photics.field.light_field import HALF_WIDTH, INTERVAL_DEGREES
from apps.photics.rig.rig import Rig

# A coral is not set closer than this to a pane [cm], house rule: room to grow and to clean.
PANE_CM = 3.0
# Places that are looked at; the pitch between them follows [cm].
PLACES_MOST = 700
PITCH_MIN_CM = 1.5
# What a place is worth falls by half for each doubling or halving of the light a coral comes
# from, house rule: a sure place after a long way may be worse than a fair one next door.
WORTH_PER_DOUBLING = 0.5
# Two places closer than this are one suggestion [share of the tank's longer side].
APART_SHARE = 0.12


@dataclass(frozen=True)
class Places:
    """Places on the bottom and on the rocks' tops."""

    points_cm: np.ndarray  # (m, 3)
    rock: np.ndarray  # (m,) number of the rock each lies on, -1 for the bottom
    pitch_cm: float


def resting_places(tank, rocks, *, deepest_cm=None):
    """Return the Places where a coral can rest: upward faces with water over them.

    A face lies in the open unless a rock covers it; under an overhang there is room, and the map
    says how dark it is there. `deepest_cm`: as far down as an arm reaches [cm].
    """
    pitch = max(PITCH_MIN_CM, float(np.sqrt(tank.length_cm * tank.width_cm / PLACES_MOST)))
    x = middles(tank.length_cm - 2 * PANE_CM, pitch) + PANE_CM
    y = middles(tank.width_cm - 2 * PANE_CM, pitch) + PANE_CM
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
    free = np.ones(len(points), bool)
    lifted = points - np.array([0.0, 0.0, 0.1])
    for rock in rocks:
        free &= ~rock.holds(*lifted.T)
    if deepest_cm is not None:
        free &= points[:, 2] <= deepest_cm
    return Places(points[free], rock_of[free], pitch)


def middles(length_cm, pitch_cm):
    """Return the middles of even pieces of a length, about a pitch apart [cm]."""
    many = max(1, round(length_cm / pitch_cm))
    return (np.arange(many) + 0.5) / many * length_cm


def chance_within(par_umol, low_umol, high_umol, *, band_low_umol, band_high_umol):
    """Return the probability that the light of each place lies in a band, (m,) [1].

    `par_umol`, `low_umol`, `high_umol` (m,): a light field's answer with its 90 % interval. Its
    law is Student's in log PAR, as the interval's (`surface.INTERVAL_DEGREES`).

    >>> found = chance_within([100.0], [80.0], [125.0], band_low_umol=80, band_high_umol=125)
    >>> found.round(2).tolist()
    [0.9]
    """
    par, low, high = (np.maximum(v, 1e-9) for v in map(np.asarray, (par_umol, low_umol, high_umol)))
    deviation = np.maximum(np.log(high / low) / (2.0 * HALF_WIDTH), 1e-9)
    ends = [(np.log(end / par)) / deviation for end in (band_low_umol, band_high_umol)]
    below = [student.cdf(end, INTERVAL_DEGREES) for end in ends]
    return below[1] - below[0]


def rock_loss(points_cm, *, tank, fixtures, rocks):
    """Return the share of each place's light that rocks take away, (m,) [1].

    By the rig as described, not fitted: what counts is the ratio with and without rocks. Zeros
    without a rock or a lit fixture.
    """
    lit = [fixture for fixture in fixtures if fixture.level > 0]
    if not lit or not rocks or not len(points_cm):
        return np.zeros(len(points_cm))
    light = []
    for boxes in (rocks, ()):
        rig = Rig(tank, lit, boxes)
        light.append(rig.log_light_at(np.asarray(points_cm, float), rig.nominal())[0])
    return np.clip(1.0 - np.exp(light[0] - light[1]), 0.0, 1.0)


def worth(chance, par_umol, *, from_umol=None):
    """Return what each place is worth, (m,): its chance, less for each doubling from before [1]."""
    chance = np.asarray(chance, float)
    if from_umol is None:
        return chance
    doublings = np.abs(np.log2(np.maximum(par_umol, 1e-9) / from_umol))
    return chance * WORTH_PER_DOUBLING**doublings


def best_apart(points_cm, value, *, most, apart_cm):
    """Return the numbers of at most `most` places of highest value, none near another, (k,)."""
    points = np.asarray(points_cm, float)
    found = []
    for number in np.argsort(-np.asarray(value), kind="stable"):
        if len(found) == most or value[number] <= 0:
            break
        gaps = np.linalg.norm(points[found] - points[number], axis=1) if found else [np.inf]
        if np.min(gaps) >= apart_cm:
            found.append(int(number))
    return found
