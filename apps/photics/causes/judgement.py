"""The answer to "is it the light?": its figures, and the verdict that stated rules make of them."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from apps.photics.causes.delay import DELAY_WEEKS, kernel
from apps.photics.causes.exposure import CHANGE_LOG2, TIME_CONSTANT_DAYS
from apps.photics.causes.tank_weeks import TankWeeks
from apps.photics.causes.visit_levels import LINGER_DAYS, NEW_DAYS, SMOOTH_DAYS
from apps.photics.ground.arrays import BoolArray

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
# How far corals within one tank and week must support it [standard errors]. Chosen, because a
# trouble of the whole tank gives as much by chance one time in ten, and true effects rarely less.
WITHIN_SUPPORT = 1.3
# Odds beyond these are not shown as figures [1]. Our own choice.
ODDS_MOST, ODDS_LEAST_PARTS = 1000.0, 100.0
# A cause that came with this proportion of the events in changed light is named [1]. Our own
# choice.
MOSTLY = 0.8
# The risk per doubling [1] that is tested for, and that must be ruled out to look elsewhere, with a
# power [1]. Chosen, because less than fourfold is not worth a keeper's time; 0.8 is the custom.
TESTED_RATIO = 4.0
ELSEWHERE_RATIO, ELSEWHERE_POWER = 4.0, 0.8
# How much longer the notes are imagined [weeks]. Chosen, because it is as long as keepers wait.
MORE_WEEKS = 10


class Ground(StrEnum):
    """What a reason rests on, besides the figures; names that other programs read."""

    # Why nothing can be compared.
    NO_EVENT = "no_event"
    FEW_EVENTS = "few_events"
    ONLY_EVENTS = "only_events"
    STEADY_LIGHT = "steady_light"
    FEW_VISITS = "few_visits"
    SHARED_CHANGE = "shared_change"
    ONE_WEEK = "one_week"
    # How far corals of one tank and week bear it out.
    NEIGHBOURS = "neighbours"
    NEIGHBOURS_DO_NOT = "neighbours_do_not"
    NO_NEIGHBOURS = "no_neighbours"
    # What came with nearly every event.
    MOVED = "moved"
    NEW = "new"
    WATER_EVENTS = "water_events"


@dataclass(frozen=True)
class Lag:
    """The effect of the light as it stood some weeks before, one lag at a time; odds [1]."""

    weeks_before: int
    ratio_per_doubling: float
    low: float
    high: float
    weight: float  # how far the verdict expects this delay, 0 to 1 [1]


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
    grounds: tuple[Ground, ...]
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
    within_root: float  # how clearly that speaks for light, in standard errors [1]
    slow_p_value: float  # of what may be enough, where slow waves may hide in short notes too [1]
    delay_weeks: int  # between the light and its effect, as the notes suggest [weeks]
    direction: str
    method: str
    notes: tuple[str, ...]


def method_words(n_tanks: int) -> str:
    """Return how the answer is worked out from notes of `n_tanks` tanks, as a keeper reads it."""
    expected = kernel(n_tanks)
    late = int(np.argmax(expected[1:])) + 1
    return (
        "Each note is held against the coral’s other notes and against the other corals of its "
        "week: how the odds of an event go up with each doubling of the light over what the coral "
        f"was used to (running mean, {TIME_CONSTANT_DAYS:g} days). A late effect counts too: "
        f"beside the light of the same week ({100 * expected[0]:.0f} %) that of {DELAY_WEEKS[1]} "
        f"to {DELAY_WEEKS[-1]} weeks before, most of all {DELAY_WEEKS[late]} weeks "
        f"({100 * expected[late]:.0f} %); these weights were set before any note was read. Every "
        f"tank has its own level. So have the first {NEW_DAYS / 7:g} weeks of a coral, the "
        f"{LINGER_DAYS / 7:g} weeks after a move by hand, each keeper’s eye, and values of the "
        f"water, where these are known. Where a tank’s notes last {SMOOTH_DAYS / 30:.0f} months or "
        "more, slow waves stand for seasons and drifts. Any week may hide a shock to the whole "
        "tank; weeks of light changes have a level of their own unless water events were logged. p "
        "by parametric bootstrap (the same tanks simulated with no effect of light) of the "
        "likelihood ratio of a fourfold risk against none, in the direction asked about; 95 % "
        "interval from the profile likelihood."
    )


def without_figures(weeks: TankWeeks, ground: Ground | None, direction: str) -> Association:
    """Return the Association of a TankWeeks without figures, `ground` why there can be none."""
    nan, n_events = float("nan"), int(weeks.event.sum())
    reason, grounds = ("", ()) if ground is None else (open_words(ground, n_events), (ground,))
    return Association(
        *(nan, nan, nan, nan, n_events, UNSURE, (), reason, grounds),
        *(nan, nan, "", evidence_words(ground)),
        *(nan,) * 8,
        *(0, direction, method_words(weeks.n_tanks), weeks.notes),
    )


def open_words(ground: Ground, n_events: int) -> str:
    """Return the sentence that says why nothing can be compared, with `n_events` noted."""
    if ground is Ground.FEW_EVENTS:
        cases = "One event is" if n_events == 1 else f"{n_events} events are"
        return f"{cases} too few to tell; it takes {MIN_EVENTS}."
    return {
        Ground.NO_EVENT: "No event was noted, so there is nothing to explain yet.",
        Ground.ONLY_EVENTS: (
            "Every visit has an event, so there are no visits without one to compare with."
        ),
        Ground.STEADY_LIGHT: (
            "No coral's light changed, so nothing can be said about changes of light."
        ),
        Ground.FEW_VISITS: "One coral with so few visits cannot be compared with itself.",
        Ground.SHARED_CHANGE: (
            "Every light change reached whole tanks in a week of a logged water event, and no "
            "coral's light differed from its neighbours', so the two cannot be told apart."
        ),
        Ground.ONE_WEEK: (
            "The events in changed light all fell in one week of one tank, and a single "
            "misfortune of the water would look the same."
        ),
    }[ground]


def evidence_words(ground: Ground | None) -> str:
    """Return which evidence would decide the question, after what it is open for."""
    if ground is Ground.STEADY_LIGHT:
        return "Move one coral, or change the light over half of the tank, and watch both halves."
    return (
        "Change the light in one step over half of the tank only, note every water event, and "
        "compare the halves week by week."
    )


def contrast_weeks(weeks: TankWeeks) -> BoolArray:
    """Return for each tank-week whether its corals' light ratios differ, (g,)."""
    top = np.maximum.reduceat(weeks.log2_ratio, weeks.starts)
    least = np.minimum.reduceat(weeks.log2_ratio, weeks.starts)
    differ: BoolArray = top - least > CHANGE_LOG2
    return differ


def power_sentence(*, now: float, later: float, turn: str = "doubling") -> str:
    """Return in words how likely the notes were to show a true effect, and what more would do.

    `now`, `later` [1]: proportions of 0 to 1, with these notes and after MORE_WEEKS weeks more like
    them. `turn`: the change of light in question, a doubling or a halving.
    """
    chance, raised = tenths(now), tenths(later)
    first = (
        f"If each {turn} of the light made it four times as likely within the week, and all else "
        f"went on as in these notes, they would show that with a chance of {chance}"
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
    turn = "halving" if result.direction == "fall" else "doubling"
    ends = f"{odds_figure(result.low)} to {odds_figure(result.high)}"
    odds_words = (
        f"odds × {odds_figure(result.ratio_per_doubling)} (95\u00a0% interval {ends}) per {turn}"
    )
    if result.p_value < POINTS_P:
        if one_cluster(weeks, result.delay_weeks):
            alone = Ground.ONE_WEEK
            return replace(result, reason=open_words(alone, result.n_events), grounds=(alone,))
        dimmer = (result.direction == "fall") != (result.ratio_per_doubling < 1)
        reason = f"Events go with light {'below' if dimmer else 'above'} what the coral was used "
        reason += f"to{before_words(result.delay_weeks)}: {odds_words}."
        if enough_to_act(result):
            return replace(result, verdict=ENOUGH, reason=reason, grounds=(Ground.NEIGHBOURS,))
        borne_out, (rival, doubt) = neighbours(result), same_time(weeks, result.delay_weeks)
        parts = (reason, caution(borne_out, weeks), doubt)
        return replace(
            result,
            verdict=POINTS,
            reason=" ".join(filter(None, parts)),
            grounds=(borne_out, *rival),
        )
    reason, rival = elsewhere(result, odds_words)
    if reason:
        return replace(result, verdict=ELSEWHERE, reason=reason, grounds=rival)
    reason = f"No clear sign of light, but that is not a sign of no light: {odds_words}."
    rival, doubt = same_time(weeks, result.delay_weeks)
    parts = (reason, doubt, result.power_words)
    return replace(result, reason=" ".join(filter(None, parts)), grounds=rival)


def odds_figure(ratio: float) -> str:
    """Return odds [1] as a keeper reads them.

    >>> [odds_figure(ratio) for ratio in (2400.0, 45.53, 4.55, 0.061, 0.00004)]
    ['over 1000', '46', '4.5', '0.06', 'under 0.01']
    """
    if ratio > ODDS_MOST:
        return f"over {ODDS_MOST:.0f}"
    if ratio < 1 / ODDS_LEAST_PARTS:
        return f"under {1 / ODDS_LEAST_PARTS:g}"
    return f"{ratio:.0f}" if ratio >= 10 else f"{ratio:.1f}" if ratio >= 1 else f"{ratio:.2f}"


def before_words(weeks: int) -> str:
    """Return how long before the light stood so, empty for the same week.

    >>> before_words(3)
    ' 3 weeks before'
    """
    return f" {weeks} week{'s' if weeks > 1 else ''} before" if weeks else ""


def neighbours(result: Association) -> Ground:
    """Return how far corals of one tank and week bear it out."""
    if supported_within(result):
        return Ground.NEIGHBOURS
    compared = np.isfinite(result.within_root)
    return Ground.NEIGHBOURS_DO_NOT if compared else Ground.NO_NEIGHBOURS


def caution(borne_out: Ground, weeks: TankWeeks) -> str:
    """Return what else would look the same, by how far corals of one week bear it out."""
    known = " that is not in the log" if weeks.water_events.any() else ""
    trouble = f"a season, a slow drift or a long trouble of the water{known}"
    if borne_out is Ground.NEIGHBOURS:
        return (
            "Corals of one week that had more of it fared worse, but chance or "
            f"{trouble} may still be part of it."
        )
    compared = (
        "corals of one tank and week do not bear it out"
        if borne_out is Ground.NEIGHBOURS_DO_NOT
        else "no corals of one tank and week could be compared"
    )
    return (
        f"But this rests on weeks compared with weeks: {compared}. {trouble[0].upper()}"
        f"{trouble[1:]} would look the same."
    )


def same_time(weeks: TankWeeks, delay_weeks: int) -> tuple[tuple[Ground, ...], str]:
    """Return which cause came with nearly every event in changed light and a sentence, or nothing.

    Light as it stood `delay_weeks` before [weeks].
    """
    dose = weeks.doses[:, DELAY_WEEKS.index(delay_weeks)]
    hit = (weeks.event > 0) & (dose > CHANGE_LOG2)
    if hit.sum() < MIN_EVENTS:
        return (), ""
    rivals = {Ground.MOVED: "soon after a move by hand", Ground.NEW: "on corals just come"}
    for rival, words in rivals.items():
        with_it = int((weeks.levels.only(str(rival))[hit] > 0).any(axis=1).sum())
        if with_it >= MOSTLY * hit.sum():
            return (rival,), (
                f"{with_it} of the {int(hit.sum())} events in changed light fell {words}, which "
                "may have done it as well as the light."
            )
    return (), ""


def elsewhere(result: Association, odds_words: str) -> tuple[str, tuple[Ground, ...]]:
    """Return the reason to look elsewhere than to the light and its Grounds, or nothing."""
    shown, water = result.power >= ELSEWHERE_POWER, result.rival_low > 1
    if not result.high < ELSEWHERE_RATIO or not (shown or water):
        return "", ()
    reason = (
        f"A fourfold risk would very likely have shown; found: {odds_words}."
        if shown
        else f"The light shows no clear sign: {odds_words}; that does not clear it. "
        f"{result.power_words}"
    )
    if not water:
        return reason, ()
    ends = f"{odds_figure(result.rival_low)} to {odds_figure(result.rival_high)}"
    times = odds_figure(result.rival_ratio)
    return (
        f"Events go with logged water events: odds × {times} (95\u00a0% interval {ends}). {reason}",
        (Ground.WATER_EVENTS,),
    )


def enough_to_act(result: Association) -> bool:
    """Return True where the finding is strong and no trouble of the whole tank can be behind it.

    Besides a small p, an interval clear of 1 and enough events, corals of one tank that differed in
    their change of light must support it week by week, and it must stand a season or a drift that
    hides in short notes.
    """
    clear = result.low > 1 or (result.direction == "either" and result.high < 1)
    strong = result.p_value < ENOUGH_P and result.n_events >= ENOUGH_EVENTS
    return strong and clear and supported_within(result) and result.slow_p_value < POINTS_P


def supported_within(result: Association) -> bool:
    """Return True where corals compared within one tank and week speak for the light."""
    side = -1 if result.ratio_per_doubling < 1 else 1
    return bool(side * result.within_root > WITHIN_SUPPORT)


def one_cluster(weeks: TankWeeks, delay_weeks: int) -> bool:
    """Return True where one tank-week holds all events in changed light, without contrast.

    Light as it stood `delay_weeks` before [weeks].
    """
    dose = weeks.doses[:, DELAY_WEEKS.index(delay_weeks)]
    hit = (weeks.event > 0) & (dose > CHANGE_LOG2)
    weeks_hit = np.unique(weeks.week[hit])
    return len(weeks_hit) == 1 and not bool(contrast_weeks(weeks)[weeks_hit[0]])
