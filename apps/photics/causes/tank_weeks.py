"""Coral-visits made fit for comparing: checked, put in an order of their own, cut in tank-weeks."""

from dataclasses import dataclass

import numpy as np

from apps.photics.causes.exposure import CHANGE_LOG2, coral_exposure

# Visits of a tank within this many days are one round of looking [d].
WEEK_DAYS = 7.0
# A light change counts as the tank's own when it reaches this share of the corals seen [1].
TANK_CHANGE_SHARE = 0.25
# A fall of the light protects about three quarters as much as a rise of the same size harms [1].
# House rule, between "not at all" and "as much": tested with worlds of both kinds in the benchmark.
FALL_WEIGHT = 0.75


@dataclass(frozen=True)
class TankWeeks:
    """Coral-visits (n,) in tank-weeks (g,), in an order that no label and no row order changes."""

    coral: np.ndarray
    tank: np.ndarray  # 0, 1, ...
    day: np.ndarray  # [d]
    dli_mol: np.ndarray  # [mol m-2 d-1]
    event: np.ndarray  # 0.0 or 1.0
    log2_ratio: np.ndarray  # doublings above the light each was used to
    dose: np.ndarray  # the same in the direction asked about, falls at FALL_WEIGHT
    week: np.ndarray  # the tank-week of each visit: 0, 1, ... ascending
    starts: np.ndarray  # (g,) first visit of each tank-week
    week_tank: np.ndarray  # (g,)
    changed: np.ndarray  # (g,) True where the light of a good part of the tank changed
    rival: np.ndarray  # (g,) logged water events
    notes: tuple[str, ...]


def tank_weeks(coral, tank, day, dli_mol, event, *, rivals=None, direction="rise"):
    """Return the TankWeeks of arrays of coral-visits (n,), or raise ValueError in plain words."""
    columns, notes = checked_columns(coral, tank, day, dli_mol, event, rivals)
    coral, tank, day, dli_mol, event, rival = own_order(*columns)
    exposure = coral_exposure(coral, day, dli_mol)
    signed = -exposure.log2_ratio if direction == "fall" else exposure.log2_ratio
    falls = 1.0 if direction == "either" else FALL_WEIGHT
    week = week_numbers(tank, day)
    order = np.argsort(week, kind="stable")
    coral, tank, day, dli_mol, event, rival, signed, week = (
        a[order] for a in (coral, tank, day, dli_mol, event, rival, signed, week)
    )
    starts = np.flatnonzero(np.r_[True, np.diff(week) > 0])[: len(week)]
    moved = np.abs(exposure.step_log2[order]) > CHANGE_LOG2
    share = np.add.reduceat(moved.astype(float), starts) / np.diff(np.r_[starts, len(week)])
    return TankWeeks(
        coral=coral,
        tank=tank,
        day=day,
        dli_mol=dli_mol,
        event=event,
        log2_ratio=exposure.log2_ratio[order],
        dose=np.where(signed > 0, signed, falls * signed),
        week=week,
        starts=starts,
        week_tank=tank[starts],
        changed=share >= TANK_CHANGE_SHARE,
        rival=np.maximum.reduceat(rival, starts),
        notes=tuple(notes),
    )


def checked_columns(coral, tank, day, dli_mol, event, rivals):
    """Return the six columns without visits that miss something, and notes; or raise ValueError."""
    coral, tank = np.asarray(coral), np.asarray(tank)
    day, dli_mol, event = (np.asarray(a, float) for a in (day, dli_mol, event))
    rival = np.zeros(day.shape) if rivals is None else np.asarray(rivals, float)
    columns = (coral, tank, day, dli_mol, event, rival)
    if day.ndim != 1 or any(a.shape != day.shape for a in columns):
        raise ValueError("Every coral-visit needs one coral, tank, day, light and event each.")
    if not len(day):
        raise ValueError("There are no coral-visits to look at.")
    if any(np.isinf(a).any() for a in columns[2:]):
        raise ValueError("A day, light, event or rival must be a finite number.")
    if (dli_mol < 0).any():
        raise ValueError("A daily light cannot be below zero.")
    if (rival < 0).any():
        raise ValueError("A count of water events cannot be below zero.")
    if not np.isin(event[np.isfinite(event)], (0, 1)).all():
        raise ValueError("An event is 0 or 1.")
    notes = []
    whole = np.isfinite(day) & np.isfinite(dli_mol) & np.isfinite(event)
    if not whole.all():
        notes.append(
            f"{int((~whole).sum())} coral-visits miss their day, light or event and are left out."
        )
    if not whole.all() and not whole.any():
        raise ValueError("Every coral-visit misses its day, its light or its event.")
    rival = np.nan_to_num(rival)
    columns = tuple(a[whole] for a in (coral, tank, day, dli_mol, event, rival))
    pairs = np.column_stack([np.unique(columns[0], return_inverse=True)[1], columns[2]])
    if len(np.unique(pairs, axis=0)) < len(pairs):
        raise ValueError("A coral is given twice on one day; keep one of the two.")
    return columns, notes


def own_order(coral, tank, day, dli_mol, event, rival):
    """Return the columns in an order, and with numbers, that follow from their content alone."""
    facts = np.column_stack([day, dli_mol, event, rival])
    coral = renumbered(coral, facts)
    tank = renumbered(tank, np.column_stack([facts, coral]))
    order = np.lexsort((coral, day, tank))
    return tuple(a[order] for a in (coral, tank, day, dli_mol, event, rival))


def renumbered(label, facts):
    """Return 0, 1, ... for each label, by what its rows hold and not by what it is called."""
    _, place = np.unique(label, return_inverse=True)
    order = np.lexsort((*facts.T[::-1], place))
    blocks = np.split(facts[order], np.flatnonzero(np.diff(place[order])) + 1)
    rank = np.empty(len(blocks), int)
    rank[sorted(range(len(blocks)), key=lambda b: blocks[b].tolist())] = np.arange(len(blocks))
    return rank[place]


def week_numbers(tank, day):
    """Return the number of the tank-week of each visit, sorted by tank and day on entry."""
    week, number, start = np.zeros(len(day), int), -1, -np.inf
    for k in range(len(day)):
        if k == 0 or tank[k] != tank[k - 1] or day[k] >= start + WEEK_DAYS:
            number, start = number + 1, day[k]
        week[k] = number
    return week
