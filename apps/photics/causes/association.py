"""Is it the light? The odds of an event against the light each coral was used to."""

from dataclasses import dataclass, replace

import numpy as np

from apps.photics.causes.conditional_logit import fit_conditional
from apps.photics.causes.delay import DELAY_WEEKS, kernel
from apps.photics.causes.exposure import CHANGE_LOG2
from apps.photics.causes.judgement import (
    DIRECTIONS,
    ELSEWHERE,
    ENOUGH,
    ENOUGH_P,
    MIN_EVENTS,
    MORE_WEEKS,
    POINTS,
    TESTED_RATIO,
    UNSURE,
    Association,
    Ground,
    Lag,
    contrast_weeks,
    judged,
    power_sentence,
    supported_within,
    without_figures,
)
from apps.photics.causes.ratio_test import (
    RatioTest,
    delays_that_differ,
    later_power,
    own_power,
)
from apps.photics.causes.shock_model import ShockFit, ShockModel
from apps.photics.causes.tank_weeks import TankWeeks, tank_weeks
from apps.photics.causes.visit_levels import with_waves
from apps.photics.ground.arrays import ArrayLike, FloatArray

__all__ = [
    "DIRECTIONS",
    "ELSEWHERE",
    "ENOUGH",
    "MORE_WEEKS",
    "POINTS",
    "UNSURE",
    "Association",
    "Lag",
    "light_association",
    "power_sentence",
]

# Chosen, because with 999 draws the least p is one in a thousand.
DRAWS = 999
# 95 % of a normal distribution lies within so many deviations [1] by definition.
NORMAL_95 = 1.96


Interval = tuple[float, float, float]  # (ratio, low, high) [1]
NO_INTERVAL: Interval = (float("nan"), float("nan"), float("nan"))


def light_association(
    coral: ArrayLike,
    tank: ArrayLike,
    day: ArrayLike,
    dli_mol: ArrayLike,
    event: ArrayLike,
    *,
    rivals: ArrayLike | None = None,
    arrived: ArrayLike | None = None,
    moved: ArrayLike | None = None,
    keeper: ArrayLike | None = None,
    water: ArrayLike | None = None,
    seed: int,
    direction: str = "rise",
    power: bool = True,
    profile: bool = True,
) -> Association:
    """Return the Association of events with the light of coral-visits.

    `coral`, `tank` (n,) integers, `day` (n,) [d], `dli_mol` (n,) [mol m-2 d-1], `event` (n,) 0/1,
    `rivals` (n,) logged water events of the visit, 0/1 or counts. `arrived` and `moved` are the
    days [d] on which each coral came and was last moved by hand, NaN for never: one for each visit
    (n,) (then `moved` may follow several moves; one later than the visit counts for nothing yet),
    or one for each coral, in the ascending order of the labels in `coral`. `keeper` (n,) labels who
    noted the visit. `water` (n,) or (n, m) holds values of the water, as temperature or the change
    of alkalinity, in any units, NaN where not known. Each has a level of its own, and light is
    blamed only for what these leave. `direction` is the question: has a "rise" (paling) or a "fall"
    (browning) raised the risk, or "either". The same input and seed give the same answer, in any
    order of rows and with any labels. With `power=False` its figures are left out, with
    `profile=False` the lags are. Raises ValueError in plain words when the columns do not fit
    together.
    """
    if direction not in DIRECTIONS:
        raise ValueError("The direction is one of rise, fall or either.")
    weeks = tank_weeks(
        *(coral, tank, day, dli_mol, event),
        water_events=rivals,
        arrived=arrived,
        moved=moved,
        keeper=keeper,
        water=water,
        direction=direction,
    )
    n_events = int(weeks.event.sum())
    ground = why_not(weeks, n_events)
    if ground:
        return without_figures(weeks, ground, direction)
    return judged(
        with_figures(weeks, direction=direction, seed=seed, power=power, profile=profile), weeks
    )


def with_figures(
    weeks: TankWeeks, *, direction: str, seed: int, power: bool, profile: bool
) -> Association:
    """Return the Association of TankWeeks that can be compared, with its figures, not judged yet.

    `power` and `profile` are whether these are worked out as well.
    """
    rng = np.random.default_rng(seed)
    model = ShockModel(weeks)
    null = model.fit(0.0)
    effects = np.log(TESTED_RATIO) * np.array([1, -1] if direction == "either" else [1])
    test = RatioTest(model, null, DRAWS, rng, effects=effects)
    p = float(test.p_above(test.statistic(model.observed()))[0])
    delay = test.likeliest_delay()
    late = model.after(delay)
    best = late.fit(None, null.parameters)
    low, high = late.interval(best)
    within = within_week(weeks, delay)
    water = water_effect(late, best)
    note = within.note
    result = replace(
        without_figures(weeks, None, direction),
        notes=weeks.notes + ((note,) if note else ()),
        ratio_per_doubling=float(np.exp(best.parameters[late.at])),
        low=float(np.exp(low)),
        high=float(np.exp(high)),
        p_value=min(p, 1.0),
        delay_weeks=DELAY_WEEKS[delay],
        lag_profile=lag_profile(model, null) if profile else (),
        within_ratio=within.interval[0],
        within_low=within.interval[1],
        within_high=within.interval[2],
        within_root=within.root,
        rival_ratio=water[0],
        rival_low=water[1],
        rival_high=water[2],
    )
    if result.p_value < ENOUGH_P and supported_within(result):
        result = replace(result, slow_p_value=p_with_waves(weeks, effects, seed))
    return with_power(result, model, test, rng, weeks) if power else result


def p_with_waves(weeks: TankWeeks, effects: FloatArray, seed: int) -> float:
    """Return the p-value [1] where every tank may have slow waves, however short its notes.

    `effects` are those tested for, (e,) [log odds per doubling].
    """
    slow = ShockModel(replace(weeks, levels=with_waves(weeks.levels, weeks.day, weeks.tank)))
    test = RatioTest(
        slow, slow.fit(0.0), DRAWS, np.random.default_rng(seed), effects=effects.tolist()
    )
    return float(test.p_above(test.statistic(slow.observed()))[0])


def why_not(weeks: TankWeeks, n_events: int) -> Ground | None:
    """Return why no comparison is possible, or None."""
    if n_events == 0:
        return Ground.NO_EVENT
    if n_events < MIN_EVENTS:
        return Ground.FEW_EVENTS
    if n_events == len(weeks.event):
        return Ground.ONLY_EVENTS
    if np.ptp(weeks.log2_ratio) < CHANGE_LOG2:
        return Ground.STEADY_LIGHT
    if len(np.unique(weeks.coral)) == 1 and len(weeks.event) < 2 * MIN_EVENTS:
        return Ground.FEW_VISITS
    return Ground.SHARED_CHANGE if only_shared_change(weeks) else None


def only_shared_change(weeks: TankWeeks) -> bool:
    """Return True where logged water events go with every change and no neighbours differ."""
    if not weeks.changed.any() or not (weeks.water_events[weeks.changed] > 0).all():
        return False
    return not bool(contrast_weeks(weeks).any())


@dataclass(frozen=True)
class WithinWeek:
    """Corals compared within one tank and week only: odds, how clearly, and what to say of it."""

    interval: Interval
    root: float  # signed root of the likelihood ratio [1], nan where nothing could be compared
    note: str


def within_week(weeks: TankWeeks, delay: int) -> WithinWeek:
    """Return the WithinWeek of the dose at a place of DELAY_WEEKS, other levels allowed for."""
    own = np.array([name != "smooth" for name in weeks.levels.names], bool)
    x = np.column_stack([weeks.doses[:, delay], weeks.levels.columns[:, own]])
    spreads = np.r_[np.inf, weeks.levels.spreads[own]]
    if not fit_conditional(x[:, 0], weeks.event, weeks.week).n_strata:
        return WithinWeek(
            NO_INTERVAL,
            float("nan"),
            "In no week with an event did the corals of that tank differ in their change of light, "
            "so only weeks were compared with weeks.",
        )
    fit = fit_conditional(x, weeks.event, weeks.week, spreads=spreads)
    without = fit_conditional(x[:, 1:], weeks.event, weeks.week, spreads=spreads[1:])
    ratio = max(0.0, 2 * (fit.log_likelihood - without.log_likelihood))
    root = float(np.sign(fit.coefficients[0]) * np.sqrt(ratio))
    if fit.separated:
        side = "most" if fit.coefficients[0] > 0 else "least"
        return WithinWeek(
            NO_INTERVAL,
            root,
            f"Within one tank and week the events always fell on the corals whose light had "
            f"changed {side} that way, so that comparison alone sets no limit to the effect.",
        )
    interval = odds(fit.coefficients[0], NORMAL_95 * fit.standard_errors[0])
    return WithinWeek(interval, root, "")


def water_effect(model: ShockModel, best: ShockFit) -> Interval:
    """Return (ratio, low, high) of the odds per logged water event, nan when none was logged."""
    if not model.logged:
        return NO_INTERVAL
    place = model.water_place
    return odds(best.parameters[place], NORMAL_95 * model.error_of(best, place))


def odds(effect: float, half_width: float) -> Interval:
    """Return (ratio, low, high) [1] of an effect and its interval's `half_width` [log odds]."""
    with np.errstate(over="ignore"):
        ends = np.exp([effect, effect - half_width, effect + half_width])
    return float(ends[0]), float(ends[1]), float(ends[2])


def lag_profile(model: ShockModel, null: ShockFit) -> tuple[Lag, ...]:
    """Return the Lags: the light ratio of 0, 1, ... weeks before, each on its own."""
    lags: list[Lag] = []
    for delay in delays_that_differ(model):
        late = model.after(delay)
        best = late.fit(None, null.parameters)
        half_width = NORMAL_95 * late.error_of(best, late.at)
        interval = odds(best.parameters[late.at], half_width)
        weight = float(kernel(model.weeks.n_tanks)[delay])
        lags.append(Lag(DELAY_WEEKS[delay], *interval, weight=weight))
    return tuple(lags)


def with_power(
    result: Association,
    model: ShockModel,
    test: RatioTest,
    rng: np.random.Generator,
    weeks: TankWeeks,
) -> Association:
    """Return the Association with its power and the words for it."""
    now = own_power(model, test, rng, ratio=TESTED_RATIO)
    span = (weeks.day.max() - weeks.day.min()) / 7 + 1
    later = later_power(now, weeks=span, more_weeks=MORE_WEEKS)
    words = power_sentence(
        now=now, later=later, turn="halving" if result.direction == "fall" else "doubling"
    )
    return replace(result, power=now, power_later=later, power_words=words)
