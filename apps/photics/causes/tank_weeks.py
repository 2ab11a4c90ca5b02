"""Coral-visits made fit for comparing: checked, put in an order of their own, cut in tank-weeks."""

from dataclasses import dataclass, fields, replace

import numpy as np

from apps.photics.causes.delay import DELAY_WEEKS
from apps.photics.causes.exposure import CHANGE_LOG2, Exposure, coral_exposure, log2_ratio_before
from apps.photics.causes.visit_levels import Levels, days_of_visits, visit_levels
from apps.photics.ground.arrays import ArrayLike, BoolArray, FloatArray, IntArray, LabelArray

# Visits of a tank within this many days are one round of looking [d]. Chosen, because keepers look
# about once a week.
WEEK_DAYS = 7.0
# A light change counts as the tank's own when it reaches this proportion of the corals seen [1].
# Chosen, because a coral moved alone is none of the tank's.
TANK_CHANGE_PROPORTION = 0.25
# A fall of the light protects about three quarters as much as a rise of the same size harms [1].
# Chosen, because it lies between "not at all" and "as much": tested with worlds of both kinds in
# the benchmark.
FALL_WEIGHT = 0.75


@dataclass(frozen=True)
class TankWeeks:
    """Coral-visits (n,) in tank-weeks (g,), in an order that no label and no row order changes.

    Arrays are (n,) where nothing else is said; ratios are in doublings [log2].
    """

    coral: IntArray
    tank: IntArray  # 0, 1, ...
    day: FloatArray  # [d]
    dli_mol: FloatArray  # [mol m-2 d-1]
    event: FloatArray  # 0.0 or 1.0
    log2_ratio: FloatArray  # doublings above the light each was used to
    doses: FloatArray  # (n, w) the same in the direction in question, falls at FALL_WEIGHT, as it
    # stood each of DELAY_WEEKS before the visit
    week: IntArray  # the tank-week of each visit: 0, 1, ... ascending
    starts: IntArray  # (g,) first visit of each tank-week
    week_tank: IntArray  # (g,)
    changed: BoolArray  # (g,) True where the light of a good part of the tank changed
    water_events: FloatArray  # (g,) logged water events
    levels: Levels  # of each visit, beside its light
    notes: tuple[str, ...]

    @property
    def n_tanks(self) -> int:
        """How many tanks the notes are of."""
        return int(self.week_tank.max()) + 1

    @property
    def dose(self) -> FloatArray:
        """The dose of the visit's own day, (n,) [log2]."""
        now: FloatArray = self.doses[:, 0]
        return now


def tank_weeks(
    coral: ArrayLike,
    tank: ArrayLike,
    day: ArrayLike,
    dli_mol: ArrayLike,
    event: ArrayLike,
    *,
    water_events: ArrayLike | None = None,
    arrived: ArrayLike | None = None,
    moved: ArrayLike | None = None,
    keeper: ArrayLike | None = None,
    water: ArrayLike | None = None,
    direction: str = "rise",
) -> TankWeeks:
    """Return the TankWeeks of coral-visits, or raise ValueError in plain words.

    `coral`, `tank` (n,) labels, `day` (n,) [d], `dli_mol` (n,) [mol m-2 d-1], `event` (n,) 0/1,
    `water_events` (n,) counts of those logged; `arrived`, `moved` [d], `keeper` (n,), `water` and
    `direction` as in `light_association`.
    """
    labels = np.asarray(coral)
    rows, notes = checked_rows(
        Rows(
            labels,
            np.asarray(tank),
            np.asarray(day, float),
            np.asarray(dli_mol, float),
            np.asarray(event, float),
            np.zeros(labels.shape) if water_events is None else np.asarray(water_events, float),
            days_of_visits(arrived, labels, "came"),
            days_of_visits(moved, labels, "were moved"),
            np.zeros(labels.shape, int) if keeper is None else np.asarray(keeper),
            as_values(water, labels),
        )
    )
    rows = own_order(rows)
    exposure = coral_exposure(rows.coral, rows.day, rows.dli_mol)
    doses = delayed_doses(rows, exposure, direction)
    week = week_numbers(rows.tank, rows.day)
    order = np.argsort(week, kind="stable")
    rows, week = rows.at(order), week[order]
    starts = np.flatnonzero(np.r_[True, np.diff(week) > 0])[: len(week)]
    stepped = np.abs(exposure.step_log2[order]) > CHANGE_LOG2
    proportion = np.add.reduceat(stepped.astype(float), starts) / np.diff(np.r_[starts, len(week)])
    return TankWeeks(
        coral=rows.coral,
        tank=rows.tank,
        day=rows.day,
        dli_mol=rows.dli_mol,
        event=rows.event,
        log2_ratio=exposure.log2_ratio[order],
        doses=doses[order],
        week=week,
        starts=starts,
        week_tank=rows.tank[starts],
        changed=proportion >= TANK_CHANGE_PROPORTION,
        water_events=np.maximum.reduceat(rows.water_events, starts),
        levels=visit_levels(rows.day, rows.tank, rows.arrived, rows.moved, rows.keeper, rows.water),
        notes=tuple(notes),
    )


@dataclass(frozen=True)
class Rows:
    """Coral-visits as columns (n,): labels, [d], [mol m-2 d-1], 0/1 and counts."""

    coral: IntArray
    tank: IntArray
    day: FloatArray
    dli_mol: FloatArray
    event: FloatArray
    water_events: FloatArray
    arrived: FloatArray  # NaN for never
    moved: FloatArray
    keeper: LabelArray
    water: FloatArray  # (n, m) values, NaN where not known

    def at(self, place: IntArray | BoolArray) -> "Rows":
        """Return the Rows at places (m,), or where True (n,)."""
        return Rows(*(getattr(self, column.name)[place] for column in fields(self)))


def as_values(water: ArrayLike | None, coral: LabelArray) -> FloatArray:
    """Return values of `water`, in any units, as columns (n, m) for visits of `coral` (n,)."""
    if water is None:
        return np.zeros((len(coral), 0))
    values = np.asarray(water, float)
    values = values[:, None] if values.ndim == 1 else values
    if values.ndim != 2 or len(values) != len(coral):
        raise ValueError("Values of the water need one row for each visit.")
    if np.isinf(values).any():
        raise ValueError("A value of the water must be a finite number, or NaN where not known.")
    return values


def checked_rows(rows: Rows) -> tuple[Rows, list[str]]:
    """Return the Rows without visits that miss something, and notes; or raise ValueError."""
    check_values(rows)
    notes = []
    whole = np.isfinite(rows.day) & np.isfinite(rows.dli_mol) & np.isfinite(rows.event)
    if not whole.all():
        notes.append(
            f"{int((~whole).sum())} coral-visits miss their day, light or event and are left out."
        )
    if not whole.all() and not whole.any():
        raise ValueError("Every coral-visit misses its day, its light or its event.")
    rows = replace(rows, water_events=np.nan_to_num(rows.water_events)).at(whole)
    pairs = np.column_stack([np.unique(rows.coral, return_inverse=True)[1], rows.day])
    if len(np.unique(pairs, axis=0)) < len(pairs):
        raise ValueError("A coral is given twice on one day; keep one of the two.")
    with np.errstate(invalid="ignore"):
        early = int((rows.arrived > rows.day).sum())
    if early:
        lie = "coral-visits lie" if early > 1 else "coral-visit lies"
        notes.append(f"{early} {lie} before the day the coral came, where it is not new yet.")
    return rows, notes


def check_values(rows: Rows) -> None:
    """Raise ValueError in plain words for Rows that do not fit together or hold what cannot be."""
    numbers = (rows.day, rows.dli_mol, rows.event, rows.water_events)
    if rows.day.ndim != 1 or any(
        a.shape != rows.day.shape for a in (rows.coral, rows.tank, rows.keeper, *numbers)
    ):
        raise ValueError("Every coral-visit needs one coral, tank, day, light and event each.")
    if not len(rows.day):
        raise ValueError("There are no coral-visits to look at.")
    if any(np.isinf(a).any() for a in numbers):
        raise ValueError("A day, light, event or rival must be a finite number.")
    if (rows.dli_mol < 0).any():
        raise ValueError("A daily light cannot be below zero.")
    if (rows.water_events < 0).any():
        raise ValueError("A count of water events cannot be below zero.")
    if not np.isin(rows.event[np.isfinite(rows.event)], (0, 1)).all():
        raise ValueError("An event is 0 or 1.")


def own_order(rows: Rows) -> Rows:
    """Return Rows in an order, and with numbers, that follow from their content alone."""
    days = np.nan_to_num(np.column_stack([rows.arrived, rows.moved]))
    facts = np.column_stack([rows.day, rows.dli_mol, rows.event, rows.water_events, days])
    coral = renumbered(rows.coral, facts)
    tank = renumbered(rows.tank, np.column_stack([facts, coral]))
    order = np.lexsort((coral, rows.day, tank))
    return replace(rows, coral=coral, tank=tank).at(order)


def renumbered(label: LabelArray, facts: FloatArray) -> IntArray:
    """Return 0, 1, ... for each label (n,), by what its rows of facts (n, k) hold, not its name."""
    _, place = np.unique(label, return_inverse=True)
    order = np.lexsort((*facts.T[::-1], place))
    blocks = np.split(facts[order], np.flatnonzero(np.diff(place[order])) + 1)
    rank = np.empty(len(blocks), int)
    rank[sorted(range(len(blocks)), key=lambda b: blocks[b].tolist())] = np.arange(len(blocks))
    numbers: IntArray = rank[place]
    return numbers


def week_numbers(tank: IntArray, day: FloatArray) -> IntArray:
    """Return the tank-week's number of each visit (n,), sorted by tank and day [d] on entry."""
    week, number, start = np.zeros(len(day), int), -1, -np.inf
    for k in range(len(day)):
        if k == 0 or tank[k] != tank[k - 1] or day[k] >= start + WEEK_DAYS:
            number, start = number + 1, day[k]
        week[k] = number
    return week


def delayed_doses(rows: Rows, exposure: Exposure, direction: str) -> FloatArray:
    """Return the dose of each visit as it was each of DELAY_WEEKS before, (n, delays) [log2].

    `exposure` is that of the rows, `direction` as in `light_association`.
    """
    ratios = np.column_stack(
        [
            log2_ratio_before(rows.coral, rows.day, exposure, days_before=7.0 * weeks)
            if weeks
            else exposure.log2_ratio
            for weeks in DELAY_WEEKS
        ]
    )
    signed = -ratios if direction == "fall" else ratios
    falls = 1.0 if direction == "either" else FALL_WEIGHT
    doses: FloatArray = np.where(signed > 0, signed, falls * signed)
    return doses
