"""Simulated tanks whose corals do, or do not, answer to light: the truth is known.

Weekly visits, light changes that reach whole or half tanks, moved corals, corals that get used to
their light with a time constant of their own world, a base risk a week, and shocks to a tank's
water that multiply every coral's risk and may coincide with a light change. Beside these, where a
world says so: corals that come and pale from the journey, hands that harm, a season, a drift,
notes only of what is wrong, two keepers' eyes, deaths, errors of the meter. Rates are made up in
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
# How long the journey and a keeper's hands harm, where they do [d].
ARRIVAL_DAYS, HANDLING_DAYS = 42, 14
# How long after it came a coral is given more light [d].
RAISED_AFTER_DAYS = (7, 28)
YEAR = 365.0


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
    move_rise_log2: float = 0.0  # the mean of a move's change of light
    base_risk: float = 0.025  # a visit
    shocks: int = 1  # in each tank
    shock_factor: float = 8.0
    shock_weeks: int = 1
    coincide_share: float = 0.0  # of the shocks strike in the week of a light change
    falls_protect: bool = True  # False: only rises change the risk
    on_visit_days: bool = False  # light changes happen on the day of a visit
    delay_days: int = 0  # between the light and its effect
    arrive_share: float = 0.0  # of the corals come after the first visit, and are raised later
    arrival_factor: float = 1.0  # of the risk, for ARRIVAL_DAYS
    handling_factor: float = 1.0  # of the risk, for HANDLING_DAYS after a move by hand
    season_factor: float = 1.0  # of the risk, highest against lowest
    season_light_log2: float = 0.0  # the light's own wave, a quarter of a year later
    drift_factor: float = 1.0  # of the risk, at the end against the beginning
    ramp_log2: float = 0.0  # rise of the light in even steps from a third to the end
    noted_share: float = 1.0  # of the visits without an event are noted
    second_eye_factor: float = 1.0  # of the risk as the second keeper sees it
    second_eye_from: float | None = None  # it takes over at this share of the time; None: in turn
    death_share: float = 0.0  # of the corals with an event die of it
    meter_error: float = 0.0  # standard deviation of log light, each visit


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
    arrived: np.ndarray  # day the coral came, nan before the first visit
    moved: np.ndarray  # day it was last moved by hand, nan for never yet
    keeper: np.ndarray  # who noted it, 0 or 1
    log_risk: np.ndarray  # what else than light raises the risk, shocks apart [log]
    water: np.ndarray  # season and drift as a value in the log, 0 to 1


def simulate(world, rng):
    """Return the Notes of one world."""
    time_constant = rng.uniform(*TIME_CONSTANT_DAYS)
    parts = [simulate_tank(world, rng, t, time_constant) for t in range(world.tanks)]
    return Notes(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def simulate_tank(world, rng, tank, time_constant):
    """Return the columns of one tank's Notes."""
    n, visits = world.corals, world.visits
    light_log2, change_days, arrived, moved = light_history(world, rng)
    light = 2**light_log2
    used = np.empty_like(light)
    used[0] = light[0]
    for day in range(1, len(light)):
        forgotten = 1 - np.exp(-1 / time_constant)
        used[day] = used[day - 1] + forgotten * (light[day - 1] - used[day - 1])
    day = WEEK * np.arange(visits)
    seen = RUN_IN_DAYS + day
    felt = seen - world.delay_days
    dose = np.log2(light[felt] / used[felt])
    dose = dose if world.falls_protect else np.maximum(dose, 0)
    shock = shock_weeks(world, rng, change_days)
    log_risk, water = other_risks(world, day, arrived, moved)
    risk = world.base_risk * world.shock_factor ** shock[:, None] * world.ratio**dose
    risk = risk * np.exp(log_risk)
    keeper = keepers(world, rng)
    risk = risk * np.where(keeper == 1, world.second_eye_factor, 1.0)[:, None]
    event = (rng.random((visits, n)) < np.minimum(risk, MAX_RISK)).astype(int)
    kept = noted(world, rng, day, event, arrived)
    measured = light[seen]
    if world.meter_error:
        measured = measured * np.exp(rng.normal(0, world.meter_error, measured.shape))
    columns = (
        np.tile(np.arange(n) + tank * n, visits),
        np.full(visits * n, tank),
        np.repeat(day, n),
        measured.ravel(),
        event.ravel(),
        np.repeat(shock, n),
        dose.ravel(),
        np.tile(arrived, visits),
        np.where(moved <= day[:, None], moved, np.nan).ravel(),
        np.repeat(keeper, n),
        log_risk.ravel(),
        np.repeat(water, n),
    )
    return tuple(column[kept.ravel()] for column in columns)


def shock_weeks(world, rng, change_days):
    """Return 0/1 of each visit: whether a shock strikes, for `shock_weeks` from its first."""
    shock = np.zeros(world.visits)
    for _ in range(world.shocks):
        if rng.random() < world.coincide_share:
            first = min(world.visits - 1, -(-int(rng.choice(change_days)) // WEEK))
        else:
            first = rng.integers(world.visits)
        shock[first : first + world.shock_weeks] = 1
    return shock


def other_risks(world, day, arrived, moved):
    """Return log factors of the risk (visits, corals) beside light, and the water's value."""
    here = day[:, None] - arrived
    since = day[:, None] - moved
    log_risk = np.log(world.arrival_factor) * ((here >= 0) & (here < ARRIVAL_DAYS))
    log_risk = log_risk + np.log(world.handling_factor) * ((since >= 0) & (since < HANDLING_DAYS))
    wave = (1 + np.sin(2 * np.pi * day / YEAR)) / 2
    progress = day / max(day[-1], 1)
    slow = np.log(world.season_factor) * wave + np.log(world.drift_factor) * progress
    water = wave if world.season_factor != 1 else progress * (world.drift_factor != 1)
    return log_risk + slow[:, None], water


def keepers(world, rng):
    """Return who looks, 0 or 1, at each visit."""
    if world.second_eye_factor == 1:
        return np.zeros(world.visits, int)
    if world.second_eye_from is None:
        return rng.integers(0, 2, world.visits)
    return (np.arange(world.visits) >= world.second_eye_from * world.visits).astype(int)


def noted(world, rng, day, event, arrived):
    """Return which visits (visits, corals) stand in the notes."""
    kept = ~(day[:, None] < arrived)
    if world.noted_share < 1:
        kept &= (event > 0) | (rng.random(event.shape) < world.noted_share)
    if world.death_share:
        dies = (event > 0) & (rng.random(event.shape) < world.death_share)
        kept &= (np.cumsum(dies, axis=0) - dies) == 0
    return kept


def light_history(world, rng):
    """Return log2 of the corals' daily light (days, corals), and days: changes, arrivals, moves."""
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
    moved, arrived = np.full((2, n), np.nan)
    for coral in np.flatnonzero(rng.random(n) < world.move_share):
        moved[coral] = rng.integers(1, span)
        rise = rng.normal(world.move_rise_log2, MOVE_SPREAD_LOG2)
        light[RUN_IN_DAYS + int(moved[coral]) :, coral] += rise
    if world.arrive_share:
        for coral in np.flatnonzero(rng.random(n) < world.arrive_share):
            arrived[coral] = rng.integers(WEEK, max(span - ARRIVAL_DAYS, WEEK + 1))
            raised = int(arrived[coral]) + rng.integers(*RAISED_AFTER_DAYS)
            light[RUN_IN_DAYS + raised :, coral] += rng.uniform(*CHANGE_LOG2)
    ahead = np.arange(len(light)) - RUN_IN_DAYS
    slow = world.season_light_log2 * np.sin(2 * np.pi * (ahead / YEAR - 0.25)) / 2
    steps = np.clip((ahead - span / 3) // WEEK * WEEK / (span * 2 / 3), 0, 1)
    return light + (slow + world.ramp_log2 * steps)[:, None], days, arrived, moved
