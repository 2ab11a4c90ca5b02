"""The next evidence: which coral to watch, which spot to read, which single step to try."""

import datetime as dt
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

from apps.corals.models import Coral, Spot
from apps.lightmap.spot_light import SpotLight
from apps.outcomes.association.events import Direction, Event
from apps.outcomes.exposure.exposure import LightBook, band_place
from apps.outcomes.exposure.visit_exposure import VisitExposure, visit_exposure
from apps.outcomes.models import CORALS_COMPARED
from apps.photics.causes.exposure import CHANGE_LOG2

# The step to try: large enough to stand out from noise, small enough to bear [1]. House rule.
STEP = {Direction.LIGHTER: 0.8, Direction.DARKER: 1.25}


Exposures = Mapping[int, VisitExposure]  # by coral key


@dataclass(frozen=True)
class Watch:
    """The coral whose next weeks show the most."""

    coral: Coral
    exposure: VisitExposure
    changed: bool  # its light stands away from what it is used to, the way in question


@dataclass(frozen=True)
class ToRead:
    """The spot whose light is least sure."""

    coral: Coral
    spot: Spot
    light: SpotLight


@dataclass(frozen=True)
class NextEvidence:
    direction: Direction
    watch: Watch | None
    read: ToRead | None
    step_coral: Coral | None
    # Whether enough corals are there for a trial of that step to compare.
    can_try: bool


def exposures_on(book: LightBook, day: dt.date) -> dict[int, VisitExposure]:
    """Return {coral key: VisitExposure} of a LightBook's living corals whose light is known."""
    living = [coral for coral in book.corals if coral.gone_on is None]
    return {coral.pk: result for coral in living if (result := visit_exposure(book, coral, day))}


def next_evidence(
    book: LightBook, events: Sequence[Event], direction: Direction, today: dt.date, now: Exposures
) -> NextEvidence:
    """Return the NextEvidence of one question from a LightBook, its Events and today's date.

    now: `exposures_on` that date; the same for both questions.
    """
    sign = 1 if direction is Direction.LIGHTER else -1
    shown = [event for event in events if event.direction is direction]
    lately = {event.coral_pk for event in shown if event.near(today)}
    lit = [coral for coral in book.corals if coral.pk in now]
    return NextEvidence(
        direction=direction,
        watch=to_watch([coral for coral in lit if coral.pk not in lately], now, sign),
        read=to_read(lit, now, {event.coral_pk for event in shown}, book, today),
        step_coral=to_step(lit, shown, now, sign),
        can_try=len(lit) >= CORALS_COMPARED,
    )


def to_watch(corals: Sequence[Coral], now: Exposures, sign: int) -> Watch | None:
    """Return the Watch: the most changed coral without the event, else the one most at its edge."""
    if not corals:
        return None
    by_change = max(corals, key=lambda c: sign * now[c.pk].before.log2_ratio)
    if sign * now[by_change.pk].before.log2_ratio > CHANGE_LOG2:
        return Watch(by_change, now[by_change.pk], changed=True)
    edge = max(corals, key=lambda c: band_place(now[c.pk].light, c).ratio ** sign)
    return Watch(edge, now[edge.pk], changed=False)


def to_read(
    corals: Sequence[Coral], now: Exposures, touched: Set[int], book: LightBook, today: dt.date
) -> ToRead | None:
    """Return the ToRead: extrapolated before not, with an event before without, then least sure."""
    if not corals:
        return None

    def uncertainty(coral: Coral) -> tuple[bool, bool, float]:
        light = now[coral.pk].light
        return light.extrapolated, coral.pk in touched, light.high_umol / light.low_umol

    coral = max(corals, key=uncertainty)
    return ToRead(coral, coral.spot_on(today), now[coral.pk].light)


def to_step(
    corals: Sequence[Coral], shown: Sequence[Event], now: Exposures, sign: int
) -> Coral | None:
    """Return the coral to try a step on: the last with the event, else the one at its edge."""
    here = {coral.pk: coral for coral in corals}
    for event in sorted(shown, key=lambda e: e.first_on, reverse=True):
        if event.coral_pk in here:
            return here[event.coral_pk]
    return max(corals, key=lambda c: band_place(now[c.pk].light, c).ratio ** sign, default=None)
