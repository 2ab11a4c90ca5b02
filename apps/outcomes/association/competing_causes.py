"""What else could have hurt the corals: logged water events, side by side with the light."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from apps.corals.models import WaterEvent
from apps.photics.causes.counts_and_ranks import Proportion, more_often, proportion_among
from apps.photics.causes.exposure import CHANGE_LOG2
from apps.photics.ground.arrays import ArrayLike, BoolArray
from apps.tanks.models import Tank

# A water event may show on corals for so long [d]. Common practice, no published source.
SHOWS_DAYS = 14


@dataclass(frozen=True)
class CompetingCause:
    """One water event that could have hurt corals."""

    pk: int
    on: dt.date
    kind: str
    words: str

    def reaches(self, day: dt.date) -> bool:
        """Tell whether what is seen on a date may come of it."""
        return dt.timedelta(0) <= day - self.on <= dt.timedelta(days=SHOWS_DAYS)


@dataclass(frozen=True)
class Suspect:
    """Visits under one suspect: how many showed the event, beside the visits free of all."""

    words: str
    is_light: bool
    share: Proportion
    free: Proportion | None  # visits under no suspect at all; None when there are none
    p_value: float | None  # chance of so many more, visit by visit
    with_light: int  # of the share's visits, those in changed light as well


def competing_causes(tank: Tank) -> tuple[CompetingCause, ...]:
    """Return the CompetingCauses of a tank, oldest first; one query."""
    events = WaterEvent.objects.present().could_hurt().filter(tank=tank).in_order()
    return tuple(
        CompetingCause(
            event.pk,
            event.happened_at.astimezone(tank.zone).date(),
            event.get_kind_display(),
            event.in_words(),
        )
        for event in events
    )


def suspects(
    days: Sequence[dt.date],
    dose_log2: ArrayLike,
    event: ArrayLike,
    causes: Sequence[CompetingCause],
    *,
    light_words: str,
    others: Mapping[str, BoolArray] | None = None,
) -> tuple[Suspect, ...]:
    """Return the Suspects of visits: the light first, then each kind of water event, then others.

    `days` are dates, `dose_log2` the light against what the coral was used to in the direction
    in question, `event` 0/1, `others` by their words; all (n,).
    """
    event = np.asarray(event)
    by_light = np.asarray(dose_log2) > CHANGE_LOG2
    kinds: dict[str, BoolArray] = {}
    for cause in causes:
        reached = np.array([cause.reaches(day) for day in days], bool)
        kinds[cause.kind] = kinds.get(cause.kind, np.zeros(len(event), bool)) | reached
    free = ~by_light
    others = others or {}
    for reached in (*kinds.values(), *others.values()):
        free = free & ~reached
    groups = [(light_words, True, by_light)]
    groups += [(f"within {SHOWS_DAYS} days of: {kind}", False, at) for kind, at in kinds.items()]
    groups += [(words, False, at) for words, at in others.items()]
    plain = proportion_among(event, free)
    return tuple(
        Suspect(
            words=words,
            is_light=is_light,
            share=share,
            free=plain,
            p_value=more_often(share, plain) if plain else None,
            with_light=int((at & by_light).sum()),
        )
        for words, is_light, at in groups
        if (share := proportion_among(event, at))
    )
