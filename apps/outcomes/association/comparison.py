"""Do the corals that changed colour sit in brighter, or dimmer, light than the others?"""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from apps.outcomes.association.events import TOGETHER_DAYS, Direction, Event
from apps.outcomes.exposure.exposure import BandPlace, LightBook, MeanLight, band_place, mean_light
from apps.photics.causes.counts_and_ranks import (
    EXACT_MAX,
    RankTest,
    rank_test,
    stratified_rank_test,
)

# Below this many corals with the event nothing is claimed, whatever the test says. House rule.
EVENTS_MIN = 3
# The usual line for a p-value.
P_CLAIM = 0.05
# Logs are compared to this many digits: corals on one spot must tie [1].
LOG_DIGITS = 6


@dataclass(frozen=True)
class CoralLight:
    """One coral as it enters the comparison: its light over the weeks before the event(s)."""

    coral_pk: int
    name: str
    event: Event | None
    light: MeanLight
    place: BandPlace
    # Against the middle coral of the same days, in log [1]: for its band, and as such.
    for_band: float
    plain: float


@dataclass(frozen=True)
class Comparison:
    """The corals with an event of one direction against those without.

    `verdict` is one of: no_events, no_light, few_events, none_without, all_equal, too_small,
    unclear, fits, against. Only the last two claim anything.
    """

    direction: Direction
    verdict: str
    n_events: int
    corals: tuple[CoralLight, ...]  # brightest for its band first
    affected: int
    without: int
    without_light: int  # corals with an event whose light is not known
    for_band: RankTest | None  # the main test
    plain: RankTest | None
    by_group: RankTest | None  # for the band, corals of one group compared with each other only
    together: int  # affected corals that began within TOGETHER_DAYS of each other, at most

    @property
    def claims(self) -> bool:
        """Return whether the verdict says anything of light."""
        return self.verdict in ("fits", "against")


def compare_corals(
    book: LightBook, events: Sequence[Event], direction: Direction, days: int
) -> Comparison:
    """Return the Comparison of a tank's corals for its `events` of one direction, any order.

    Each coral counts once: with an event, by the mean light of the `days` before its first event
    whose light is known; without, by the mean over the same days of all those events. From each
    value the median of all corals on those days is taken off, so that a change that reached
    the whole tank between two events speaks neither for nor against a coral.
    """
    firsts = first_lit_events(book, events, days)
    rows = coral_lights(book, events, firsts, days)
    affected = [row for row in rows if row.event]
    without = [row for row in rows if not row.event]
    tests: list[RankTest | None] = [None, None]
    if affected and without:
        tests = [
            rank_test([getattr(r, name) for r in affected], [getattr(r, name) for r in without])
            for name in ("for_band", "plain")
        ]
    touched = {event.coral_pk for event in events}
    return Comparison(
        direction=direction,
        verdict=verdict_of(direction, len(events), len(affected), tests[0]),
        n_events=len(events),
        corals=tuple(sorted(rows, key=lambda row: (-row.place.ratio, row.name))),
        affected=len(affected),
        without=len(without),
        without_light=len(touched) - len(affected),
        for_band=tests[0],
        plain=tests[1],
        by_group=within_groups(book, affected, without),
        together=most_together([row.event for row in affected if row.event]),
    )


def within_groups(
    book: LightBook, affected: Sequence[CoralLight], without: Sequence[CoralLight]
) -> RankTest | None:
    """Return the RankTest that compares soft with soft, SPS with SPS; None where none has both.

    Also None where a group is too large to count: the plain test does not need its help then.
    """
    groups = {coral.pk: coral.group for coral in book.corals}
    labels = [[groups[row.coral_pk] for row in rows] for rows in (affected, without)]
    if not set(labels[0]) & set(labels[1]) or len(affected) + len(without) > EXACT_MAX:
        return None
    return stratified_rank_test(
        [row.for_band for row in affected], [row.for_band for row in without], *labels
    )


def verdict_of(direction: Direction, n_events: int, n_affected: int, test: RankTest | None) -> str:
    """Return the verdict's word; the order of the rules is the rule."""
    if n_events == 0:
        return "no_events"
    if n_affected == 0:
        return "no_light"
    if n_affected < EVENTS_MIN:
        return "few_events"
    if test is None:
        return "none_without"
    if test.smallest_p_value == 1.0:
        return "all_equal"
    if test.smallest_p_value > P_CLAIM:
        return "too_small"
    if test.p_value > P_CLAIM:
        return "unclear"
    expected = "higher" if direction is Direction.LIGHTER else "lower"
    return "fits" if test.direction == expected else "against"


def first_lit_events(book: LightBook, events: Sequence[Event], days: int) -> dict[int, Event]:
    """Return {coral key: its first event whose light before is known}."""
    firsts: dict[int, Event] = {}
    for event in sorted(events, key=lambda e: (e.first_on, e.pk)):
        known = book.means_before(book.eve(event.first_on), days)
        if event.coral_pk in known:
            firsts.setdefault(event.coral_pk, event)
    return firsts


def coral_lights(
    book: LightBook, events: Sequence[Event], firsts: dict[int, Event], days: int
) -> list[CoralLight]:
    """Return the CoralLight of every coral that can be compared."""
    touched = {event.coral_pk for event in events}
    windows = {day: window(book, day, days) for day in {e.first_on for e in firsts.values()}}
    rows = []
    for coral in book.corals:
        event = firsts.get(coral.pk)
        if coral.pk in touched and event is None:
            continue
        on = [event.first_on] if event else [e.first_on for e in firsts.values()]
        seen = [windows[day][coral.pk] for day in on if coral.pk in windows[day]]
        if not seen:
            continue
        lights, for_band, plain = zip(*seen, strict=True)
        light = mean_light([(part.days, part) for part in lights])
        rows.append(
            CoralLight(
                coral_pk=coral.pk,
                name=coral.name,
                event=event,
                light=light,
                place=band_place(light, coral),
                for_band=round(sum(for_band) / len(for_band), LOG_DIGITS),
                plain=round(sum(plain) / len(plain), LOG_DIGITS),
            )
        )
    return rows


def window(book: LightBook, day: dt.date, days: int) -> dict[int, tuple[MeanLight, float, float]]:
    """Return {coral key: (MeanLight, log for its band, log as such)} before a day.

    The logs are taken against the median of all corals of those days [1].
    """
    means = book.means_before(book.eve(day), days)
    corals = book.coral_by_pk
    plain = {pk: math.log(light.par_umol) for pk, light in means.items()}
    ratio = {pk: math.log(band_place(light, corals[pk]).ratio) for pk, light in means.items()}
    middle = {name: median(logs.values()) for name, logs in (("p", plain), ("r", ratio)) if logs}
    return {
        pk: (light, ratio[pk] - middle["r"], plain[pk] - middle["p"]) for pk, light in means.items()
    }


def most_together(events: Sequence[Event]) -> int:
    """Return the largest number of events that began within TOGETHER_DAYS of each other."""
    days = sorted(event.first_on for event in events)
    return max(
        (sum(0 <= (day - first).days <= TOGETHER_DAYS for day in days) for first in days),
        default=0,
    )
