"""What a map rests on and what its readings say against each other, in words for keepers."""

import datetime as dt
from collections.abc import Sequence

from apps.lighting.history import LightHistory
from apps.lightmap.joint_input import OWN_PART, Contribution
from apps.lightmap.provenance import day_words
from apps.photics.field.readings import MIN_READINGS
from apps.photics.field.rock_fit import RockFit

# Surveys named one by one, also in the one line at the top; of more, only how many there are.
NAMED, NAMED_ON_TOP = 3, 2


def rests_on_words(
    rests_on: Sequence[Contribution],
    history: LightHistory,
    zone: dt.tzinfo,
    *,
    named: int = NAMED,
) -> str:
    """Return "27 readings of 1 Jul 2026, carried over two light changes, and 3 of 4 Aug 2026".

    Empty where a map rests on one survey alone. `named`: the most surveys named one by one.
    """
    if len(rests_on) < 2:
        return ""
    last = rests_on[-1]
    if len(rests_on) > named:
        earlier = rests_on[:-1]
        count = sum(one.count for one in earlier)
        since = day_words(earlier[0].taken_at, zone)
        carried = carried_words(earlier[0].taken_at, last.taken_at, history)
        parts = [f"{count} readings from {len(earlier)} surveys since {since}{carried}"]
    else:
        parts = [
            f"{readings_words(one, zone, is_first=k == 0)}"
            f"{carried_words(one.taken_at, last.taken_at, history)}"
            for k, one in enumerate(rests_on[:-1])
        ]
    return ", ".join(parts) + f" and {last.count} from {day_words(last.taken_at, zone)}"


def heading_words(rests_on: Sequence[Contribution], history: LightHistory, zone: dt.tzinfo) -> str:
    """Return the map's heading that names its surveys, "" if its last one stands alone."""
    if not is_check(rests_on):
        return ""
    return rests_on_words(rests_on, history, zone, named=NAMED_ON_TOP)


def is_check(rests_on: Sequence[Contribution]) -> bool:
    """Return whether the last survey is only a check of a map that rests on those before it.

    It reads too few spots for a map, or less than OWN_PART of what the largest one read.
    """
    if len(rests_on) < 2:
        return False
    *earlier, last = rests_on
    return last.count < max(MIN_READINGS, OWN_PART * max(one.count for one in earlier))


def readings_words(one: Contribution, zone: dt.tzinfo, *, is_first: bool) -> str:
    """Return "27 readings from 1 Jul 2026", or without the noun where it was said."""
    noun = f" reading{'' if one.count == 1 else 's'}" if is_first else ""
    return f"{one.count}{noun} from {day_words(one.taken_at, zone)}"


def carried_words(start: dt.datetime, end: dt.datetime, history: LightHistory) -> str:
    """Return " (adjusted for 2 light changes)", empty where the light did not change."""
    changes = [change for change in history.between(start, end) if change.touches_light]
    plural = "" if len(changes) == 1 else "s"
    return f" (adjusted for {len(changes)} light change{plural})" if changes else ""


def contradiction_words(ratio: float | None) -> str:
    """Say that a survey's readings are not what the others foresee; empty where they are."""
    if ratio is None:
        return ""
    percent = round(100 * abs(ratio - 1))
    more = "more" if ratio > 1 else "less"
    return f"These readings show {percent}\u00a0% {more} light than the earlier ones predict."


def rock_words(fits: Sequence[RockFit], names: Sequence[str]) -> list[str]:
    """Say which rocks shade otherwise than their boxes would; names in their order."""
    result = []
    for fit in fits:
        name = names[fit.number] if fit.number < len(names) else ""
        rock = f"The rock “{name}”" if name else "A rock"
        if fit.size == 0:
            result.append(f"{rock} throws no shadow on the readings: check its place and size.")
        elif fit.is_soft:
            result.append(f"{rock} shades as a mound does, less at its sides than its box would.")
        else:
            shades = "less" if fit.size < 1 else "more"
            result.append(f"{rock} shades {shades} than its box would: check its size.")
    return result
