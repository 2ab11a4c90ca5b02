"""Is it the light? The odds of an event against the light each coral was used to."""

from dataclasses import dataclass, replace

import numpy as np

from apps.photics.causes.conditional_logit import fit_conditional
from apps.photics.causes.exposure import CHANGE_LOG2, TIME_CONSTANT_DAYS
from apps.photics.causes.shock_model import (
    RatioTest,
    ShockFit,
    ShockModel,
    later_power,
    own_power,
)
from apps.photics.causes.tank_weeks import TankWeeks, tank_weeks
from apps.photics.ground.arrays import ArrayLike, BoolArray

ENOUGH, POINTS, UNSURE, ELSEWHERE = (
    "enough to act",
    "points to light",
    "cannot tell",
    "points elsewhere",
)
DIRECTIONS = ("rise", "fall", "either")
# Stated rules of the verdict. Chosen, because two events are a coincidence, and six with a p of one
# in two hundred are worth acting on [1].
MIN_EVENTS, ENOUGH_EVENTS = 3, 6
POINTS_P, ENOUGH_P = 0.05, 0.005
# Within one tank and week the answer may not lean the other way by more than this [log odds / se].
# Chosen, because half an error is what chance alone gives three times in ten.
WITHIN_AGAINST = -0.5
# The risk per doubling [1] that is tested for, and that must be ruled out to look elsewhere, with a
# power [1]. Chosen, because less than fourfold is not worth a keeper's time; 0.8 is the custom.
TESTED_RATIO = 4.0
ELSEWHERE_RATIO, ELSEWHERE_POWER = 4.0, 0.8
# How much longer the notes are imagined [weeks]. Chosen, because it is as long as keepers wait.
MORE_WEEKS = 10
# Chosen, because with 999 draws the least p is one in a thousand.
DRAWS = 999
# How far back the light's effect is looked for [weeks]. Chosen, because it is about twice
# TIME_CONSTANT_DAYS.
LAG_WEEKS = 5
# 95 % of a normal distribution lies within so many deviations [1] by definition.
NORMAL_95 = 1.96
METHOD = (
    "Logistic model of the odds of an event per doubling of the light over what the coral was "
    f"used to (running mean, {TIME_CONSTANT_DAYS:g} days). Every tank has its own level, and any "
    "tank-week may hide a shock to the whole tank; weeks of light changes have a level of their "
    "own unless water events were logged. p by parametric bootstrap of the likelihood ratio of a "
    "fourfold risk against none, in the direction asked about (one-sided for a rise or a fall); "
    "95 % interval from the profile likelihood."
)


Interval = tuple[float, float, float]  # (ratio, low, high) [1]
NO_INTERVAL: Interval = (float("nan"), float("nan"), float("nan"))


@dataclass(frozen=True)
class Lag:
    """The effect of the light as it stood some weeks before, one lag at a time; odds [1]."""

    weeks_before: int
    ratio_per_doubling: float
    low: float
    high: float


@dataclass(frozen=True)
class Association:
    """What the notes say about the light. Figures that do not exist are nan; `reason` says why.

    Ratios are of odds per doubling of the light [1] (per halving where a fall is the question).
    `rival_` and `settle` are names that other programs read.
    """

    ratio_per_doubling: float
    low: float  # 95 % interval
    high: float
    p_value: float
    n_events: int
    verdict: str
    lag_profile: tuple[Lag, ...]
    reason: str
    power: float  # chance that a fourfold risk would show with these notes
    power_later: float  # the same after ten more weeks like these
    power_words: str
    settle: str
    within_ratio: float  # corals compared within one tank and week only
    within_low: float
    within_high: float
    rival_ratio: float  # odds per logged water event, beside the light
    rival_low: float
    rival_high: float
    direction: str
    method: str
    notes: tuple[str, ...]


def light_association(
    coral: ArrayLike,
    tank: ArrayLike,
    day: ArrayLike,
    dli_mol: ArrayLike,
    event: ArrayLike,
    *,
    rivals: ArrayLike | None = None,
    seed: int,
    direction: str = "rise",
    power: bool = True,
) -> Association:
    """Return the Association of events with the light of coral-visits.

    `coral`, `tank` (n,) integers, `day` (n,) [d], `dli_mol` (n,) [mol m-2 d-1], `event` (n,) 0/1,
    `rivals` (n,) logged water events of the visit, 0/1 or counts. `direction` is the question: has
    a "rise" (paling) or a "fall" (browning) raised the risk, or "either". The same input and seed
    give the same answer, in any order of rows and with any labels. `power=False` and its figures
    are left out. Raises ValueError in plain words when the columns do not fit together.
    """
    if direction not in DIRECTIONS:
        raise ValueError("The direction is one of rise, fall or either.")
    weeks = tank_weeks(coral, tank, day, dli_mol, event, water_events=rivals, direction=direction)
    n_events = int(weeks.event.sum())
    reason = why_not(weeks, n_events)
    if reason:
        return without_figures(n_events, reason, direction, weeks.notes)
    return judged(with_figures(weeks, direction=direction, seed=seed, power=power), weeks)


def with_figures(weeks: TankWeeks, *, direction: str, seed: int, power: bool) -> Association:
    """Return the Association of TankWeeks that can be compared, with its figures, not judged yet.

    `power` is whether it is worked out as well.
    """
    rng = np.random.default_rng(seed)
    model = ShockModel(weeks)
    null = model.fit(0.0)
    best = model.fit(None, null.parameters)
    effects = np.log(TESTED_RATIO) * np.array([1, -1] if direction == "either" else [1])
    test = RatioTest(model, null, DRAWS, rng, effects=effects)
    p = float(test.p_above(test.statistic(model.observed()))[0])
    low, high = model.interval(best)
    within, note = within_week(weeks)
    water = water_effect(model, best)
    result = replace(
        without_figures(
            int(weeks.event.sum()), "", direction, weeks.notes + ((note,) if note else ())
        ),
        ratio_per_doubling=float(np.exp(best.parameters[model.at])),
        low=float(np.exp(low)),
        high=float(np.exp(high)),
        p_value=min(p, 1.0),
        lag_profile=lag_profile(weeks),
        within_ratio=within[0],
        within_low=within[1],
        within_high=within[2],
        rival_ratio=water[0],
        rival_low=water[1],
        rival_high=water[2],
    )
    return with_power(result, model, test, rng, weeks) if power else result


def why_not(weeks: TankWeeks, n_events: int) -> str:
    """Return the sentence that says why no comparison is possible, or nothing."""
    if n_events == 0:
        return "No event was noted, so there is nothing to explain yet."
    if n_events < MIN_EVENTS:
        return f"Only {n_events} event{'s were' if n_events > 1 else ' was'} noted; fewer than " + (
            f"{MIN_EVENTS} carry no claim."
        )
    if n_events == len(weeks.event):
        return "Every visit has an event, so there are no visits without one to compare with."
    if np.ptp(weeks.log2_ratio) < CHANGE_LOG2:
        return "No coral's light changed, so nothing can be said about changes of light."
    if len(np.unique(weeks.coral)) == 1 and len(weeks.event) < 2 * MIN_EVENTS:
        return "One coral with so few visits cannot be compared with itself."
    if only_shared_change(weeks):
        return (
            "Every light change reached whole tanks in a week of a logged water event, and no "
            "coral's light differed from its neighbours', so the two cannot be told apart."
        )
    return ""


def only_shared_change(weeks: TankWeeks) -> bool:
    """Return True where logged water events go with every change and no neighbours differ."""
    if not weeks.changed.any() or not (weeks.water_events[weeks.changed] > 0).all():
        return False
    return not bool(contrast_weeks(weeks).any())


def contrast_weeks(weeks: TankWeeks) -> BoolArray:
    """Return for each tank-week whether its corals' light ratios differ, (g,)."""
    top = np.maximum.reduceat(weeks.log2_ratio, weeks.starts)
    least = np.minimum.reduceat(weeks.log2_ratio, weeks.starts)
    differ: BoolArray = top - least > CHANGE_LOG2
    return differ


def without_figures(
    n_events: int, reason: str, direction: str, notes: tuple[str, ...]
) -> Association:
    """Return an Association without figures."""
    nan = float("nan")
    return Association(
        *(nan, nan, nan, nan, n_events, UNSURE, (), reason, nan, nan, "", evidence_words(reason)),
        *(nan,) * 6,
        *(direction, METHOD, notes),
    )


def evidence_words(reason: str) -> str:
    """Return which evidence would decide the question, after the reason why it is open."""
    if "No coral's light changed" in reason:
        return "Move one coral, or change the light over half of the tank, and watch both halves."
    return (
        "Change the light in one step over half of the tank only, note every water event, and "
        "compare the halves week by week."
    )


def within_week(weeks: TankWeeks) -> tuple[Interval, str]:
    """Return (ratio, low, high) comparing corals within one tank and week only, and a note."""
    fit = fit_conditional(weeks.dose, weeks.event, weeks.week)
    if not fit.n_strata:
        return NO_INTERVAL, (
            "In no week with an event did the corals of that tank differ in their change of light, "
            "so only weeks were compared with weeks."
        )
    if fit.separated:
        side = "most" if fit.coefficients[0] > 0 else "least"
        return NO_INTERVAL, (
            f"Within one tank and week the events always fell on the corals whose light had "
            f"changed {side} that way, so that comparison alone sets no limit to the effect."
        )
    return odds(fit.coefficients[0], NORMAL_95 * fit.standard_errors[0]), ""


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


def lag_profile(weeks: TankWeeks) -> tuple[Lag, ...]:
    """Return the Lags: the light ratio of 0, 1, ... weeks before, each on its own."""
    lags: list[Lag] = []
    order = np.lexsort((weeks.day, weeks.coral))
    same = np.r_[False, np.diff(weeks.coral[order]) == 0]
    values, known = weeks.dose[order], np.ones(len(order), bool)
    for lag in range(LAG_WEEKS):
        if lag:
            values = np.where(same, np.r_[0.0, values[:-1]], 0.0)
            known = same & np.r_[False, known[:-1]]
        dose = np.empty(len(order))
        dose[order] = np.where(known, values, 0.0)
        if np.ptp(dose) < CHANGE_LOG2:
            break
        model = ShockModel(weeks, dose)
        best = model.fit()
        half_width = NORMAL_95 * model.error_of(best, model.at)
        lags.append(Lag(lag, *odds(best.parameters[model.at], half_width)))
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


def power_sentence(*, now: float, later: float, turn: str = "doubling") -> str:
    """Return in words how likely the notes were to show a true effect, and what more would do.

    `now`, `later` [1]: proportions of 0 to 1, with these notes and after MORE_WEEKS weeks more like
    them. `turn`: the change of light in question, a doubling or a halving.
    """
    chance, raised = tenths(now), tenths(later)
    first = (
        f"If each {turn} of the light made it four times as likely, these notes would show that "
        f"with a chance of {chance}"
    )
    if later <= now or chance == raised:
        return f"{first}; another {MORE_WEEKS} weeks like these would hardly change that."
    return f"{first}; another {MORE_WEEKS} weeks like these would raise it to {raised}."


def tenths(proportion: float) -> str:
    """Return a proportion [1] to the nearest tenth, in words where that would mislead.

    >>> tenths(0.42), tenths(0.01), tenths(0.99)
    ('about 40 %', 'less than 10 %', 'more than 90 %')
    """
    count = round(10 * proportion)
    return {0: "less than 10 %", 10: "more than 90 %"}.get(count, f"about {10 * count} %")


def judged(result: Association, weeks: TankWeeks) -> Association:
    """Return the Association with its verdict and the reason for it, by the stated rules."""
    odds_words = f"odds x {result.ratio_per_doubling:.1f} (95 % interval {result.low:.2g} to "
    odds_words += (
        f"{result.high:.2g}) per {'halving' if result.direction == 'fall' else 'doubling'}"
    )
    if result.p_value < POINTS_P:
        if one_cluster(weeks):
            reason = (
                "The events in changed light all fell in one week of one tank, and a single "
                "misfortune of the water would look the same."
            )
            return replace(result, reason=reason)
        dimmer = (result.direction == "fall") != (result.ratio_per_doubling < 1)
        reason = f"Events go with light {'below' if dimmer else 'above'} what the coral was used "
        verdict = ENOUGH if enough_to_act(result, weeks) else POINTS
        return replace(result, verdict=verdict, reason=f"{reason}to: {odds_words}.")
    reason = elsewhere(result, odds_words)
    if reason:
        return replace(result, verdict=ELSEWHERE, reason=reason)
    reason = f"No clear sign of light, but that is not a sign of no light: {odds_words}."
    return replace(result, reason=f"{reason} {result.power_words}".strip())


def elsewhere(result: Association, odds_words: str) -> str:
    """Return the reason to look elsewhere than to the light, or nothing."""
    shown, water = result.power >= ELSEWHERE_POWER, result.rival_low > 1
    if not result.high < ELSEWHERE_RATIO or not (shown or water):
        return ""
    reason = (
        f"A fourfold risk would very likely have shown; found: {odds_words}."
        if shown
        else f"The light shows no clear sign: {odds_words}; that does not clear it. "
        f"{result.power_words}"
    )
    if not water:
        return reason
    interval = f"95 % interval {result.rival_low:.2g} to {result.rival_high:.2g}"
    return (
        f"Events go with logged water events: odds x {result.rival_ratio:.1f} ({interval}). "
        f"{reason}"
    )


def enough_to_act(result: Association, weeks: TankWeeks) -> bool:
    """Return True where the finding is strong and one misfortune of the water cannot be behind it.

    Besides a small p, an interval clear of 1 and enough events, corals of one tank must have
    differed in a week of an event, or the keeper must have logged water events.
    """
    clear = result.low > 1 or (result.direction == "either" and result.high < 1)
    differing = contrast_weeks(weeks)[weeks.week[weeks.event > 0]]
    compared = bool(differing.any() or weeks.water_events.any())
    strong = result.p_value < ENOUGH_P and result.n_events >= ENOUGH_EVENTS
    return strong and clear and compared and not leans_against(result)


def leans_against(result: Association) -> bool:
    """Return True where corals compared within one tank and week speak against the light."""
    if not np.isfinite(result.within_ratio):
        return False
    error = (np.log(result.within_high) - np.log(result.within_low)) / (2 * NORMAL_95)
    side = -1 if result.ratio_per_doubling < 1 else 1
    return bool(side * np.log(result.within_ratio) < WITHIN_AGAINST * error)


def one_cluster(weeks: TankWeeks) -> bool:
    """Return True where one tank-week holds all events in changed light, without contrast."""
    hit = (weeks.event > 0) & (weeks.dose > CHANGE_LOG2)
    weeks_hit = np.unique(weeks.week[hit])
    return len(weeks_hit) == 1 and not bool(contrast_weeks(weeks)[weeks_hit[0]])
