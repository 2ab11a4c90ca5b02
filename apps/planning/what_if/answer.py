"""What another rig would change, in one sentence: how bright, and which corals it moves."""

from collections.abc import Sequence

from apps.common.units import percent_words
from apps.lightmap.pins import UNKNOWN, WITHIN, BandState
from apps.planning.what_if.what_if import CoralChange, WhatIf

# Below this a change of the mean light is none to speak of [%]: our own choice, a third of what
# readings scatter by.
SAME_PERCENT = 1.0


def answer_of(changed: WhatIf, depth: str) -> str:
    """Return the sentence of a WhatIf; `depth` is that of its plane with its unit."""
    light = light_words(changed.ratio)
    corals = coral_words(changed.corals)
    at_depth = f"{light} at {depth} deep" if light else f"Nothing shines at {depth} deep now"
    return f"{at_depth}; {corals}." if corals else f"{at_depth}."


def light_words(ratio: float | None) -> str:
    """Return how the mean light of a plane changes, empty out of the dark."""
    if ratio is None:
        return ""
    percent = 100.0 * (ratio - 1.0)
    if abs(percent) < SAME_PERCENT:
        return "About as bright as now"
    return f"{percent_words(abs(percent))} {'brighter' if percent > 0 else 'dimmer'} on average"


def coral_words(changes: Sequence[CoralChange]) -> str:
    """Return which corals leave their band and which come into it; empty with no coral at all."""
    known = [one for one in changes if UNKNOWN not in (one.state_now.key, one.state_then.key)]
    if not known:
        return ""
    moves = [one for one in known if is_within(one.state_now) != is_within(one.state_then)]
    leaving = [one for one in moves if is_within(one.state_now)]
    coming = [one for one in moves if is_within(one.state_then)]
    if not moves:
        return "no coral leaves its band or comes into it"
    return " and ".join(
        words for words in (moved(leaving, "leave"), moved(coming, "come into")) if words
    )


def is_within(state: BandState) -> bool:
    """Return whether a light is within its band, be it probably."""
    return state.key == WITHIN


def moved(changes: Sequence[CoralChange], verb: str) -> str:
    """Return one coral by its name, several by their count, with what they do to their band."""
    if len(changes) == 1:
        first, *rest = verb.split()
        return " ".join((changes[0].coral.name, f"{first}s", *rest, "its band"))
    return f"{len(changes)} corals {verb} their band" if changes else ""
