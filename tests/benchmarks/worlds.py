"""Simulated tanks whose corals do, or do not, answer to light: the truth is known.

Weekly visits, light changes that reach whole or half tanks, moved corals, corals that get used to
their light with a time constant of their own world, a base risk a week, and shocks to a tank's
water that multiply every coral's risk and may coincide with a light change. Rates are made up in
the range that keepers' notes have: common practice, no published source.
"""

from dataclasses import dataclass

import numpy as np

WEEK = 7
RUN_IN_DAYS = 60  # steady light before the first visit
BASE_LIGHT_LOG2, CORAL_SPREAD_LOG2 = np.log2(10.0), 0.7
CHANGE_LOG2, MOVE_SPREAD_LOG2 = (0.5, 1.3), 0.8
TIME_CONSTANT_DAYS = (10.0, 25.0)
MAX_RISK = 0.95


@dataclass(frozen=True)
class World:
    """What one kind of world is like."""

    ratio: float = 1.0  # risk per doubling
    tanks: int = 2
    corals: int = 12  # in each tank
    visits: int = 30
    changes: tuple[int, int] = (2, 4)  # light changes of each tank, both ends included
    half_share: float = 0.5  # of the changes reach half of the corals
    rise_share: float = 0.6  # of the changes are rises
    move_share: float = 0.3  # of the corals are moved once
    base_risk: float = 0.025  # a visit
    shocks: int = 1  # in each tank
    shock_factor: float = 8.0
    coincide_share: float = 0.0  # of the shocks strike in the week of a light change
    falls_protect: bool = True  # False: only rises change the risk
    on_visit_days: bool = False  # light changes happen on the day of a visit


@dataclass(frozen=True)
class Notes:
    """One simulated world's coral-visits, arrays (n,), and what no keeper sees."""

    coral: np.ndarray
    tank: np.ndarray
    day: np.ndarray
    dli_mol: np.ndarray
    event: np.ndarray
    shock: np.ndarray
    true_dose: np.ndarray  # doublings that the true risk answers to


def simulate(world, rng):
    """Return the Notes of one world."""
    time_constant = rng.uniform(*TIME_CONSTANT_DAYS)
    parts = [simulate_tank(world, rng, t, time_constant) for t in range(world.tanks)]
    return Notes(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def simulate_tank(world, rng, tank, time_constant):
    """Return the columns of one tank's Notes."""
    n, visits = world.corals, world.visits
    light_log2, change_days = light_history(world, rng)
    light = 2**light_log2
    used = np.empty_like(light)
    used[0] = light[0]
    for day in range(1, len(light)):
        forgotten = 1 - np.exp(-1 / time_constant)
        used[day] = used[day - 1] + forgotten * (light[day - 1] - used[day - 1])
    seen = RUN_IN_DAYS + WEEK * np.arange(visits)
    dose = np.log2(light[seen] / used[seen])
    dose = dose if world.falls_protect else np.maximum(dose, 0)
    shock = np.zeros(visits)
    for _ in range(world.shocks):
        if rng.random() < world.coincide_share:
            shock[min(visits - 1, -(-int(rng.choice(change_days)) // WEEK))] = 1
        else:
            shock[rng.integers(visits)] = 1
    risk = world.base_risk * world.shock_factor ** shock[:, None] * world.ratio**dose
    event = (rng.random((visits, n)) < np.minimum(risk, MAX_RISK)).astype(int)
    return (
        np.tile(np.arange(n) + tank * n, visits),
        np.full(visits * n, tank),
        np.repeat(WEEK * np.arange(visits), n),
        light[seen].ravel(),
        event.ravel(),
        np.repeat(shock, n),
        dose.ravel(),
    )


def light_history(world, rng):
    """Return log2 of every coral's daily light (days, corals) and the days of the changes."""
    n, span = world.corals, WEEK * (world.visits - 1)
    light = np.tile(rng.normal(BASE_LIGHT_LOG2, CORAL_SPREAD_LOG2, n), (RUN_IN_DAYS + span + 1, 1))
    days = rng.integers(WEEK, span, rng.integers(world.changes[0], world.changes[1] + 1))
    days = WEEK * (days // WEEK) if world.on_visit_days else days
    for day in days:
        step = rng.uniform(*CHANGE_LOG2) * (1 if rng.random() < world.rise_share else -1)
        reached = np.ones(n, bool)
        if rng.random() < world.half_share:
            reached = rng.permutation(n) < n // 2
        light[RUN_IN_DAYS + day :, reached] += step
    for coral in np.flatnonzero(rng.random(n) < world.move_share):
        light[RUN_IN_DAYS + rng.integers(1, span) :, coral] += rng.normal(0, MOVE_SPREAD_LOG2)
    return light, days
