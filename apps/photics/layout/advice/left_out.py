"""Fixtures that hang in no layout that was tried, and which limit keeps them from it."""

from collections.abc import Iterable
from dataclasses import dataclass

from apps.photics.layout.choice import forbids, one_kind
from apps.photics.layout.hanging import Layout
from apps.photics.layout.places import starts
from apps.photics.layout.search import Search

# Why a candidate hangs nowhere: no room, too dear, too much power; so few may hang that it was not
# tried; it can't hang without lying on what it would hang beside; others do better. Our own names.
ROOM, BUDGET, WATTS, COUNT, BESIDE, WORSE = "room", "budget", "watts", "count", "beside", "worse"


@dataclass(frozen=True)
class LeftOut:
    """A candidate that hangs in no answer, and one of the reasons above."""

    candidate: int
    reason: str


def left_out(search: Search, layouts: Iterable[Layout]) -> tuple[LeftOut, ...]:
    """Return the LeftOuts of a finished search, given the layouts of its answers."""
    question = search.question
    hung = {kind.candidate for layout in layouts for kind in layout.hung}
    return tuple(
        LeftOut(number, reason_of(search, number))
        for number in range(len(question.candidates))
        if number not in hung
    )


def reason_of(search: Search, number: int) -> str:
    """Return why a candidate hangs in no answer."""
    question = search.question
    candidate = question.candidates[number]
    limit = forbids(question, one_kind(number, candidate.beams_deg[0], 1))
    if limit:
        return limit
    tried = [choice for choice in search.choices
             if any(part.candidate == number for part in choice.parts)]  # fmt: skip
    if not tried:
        return COUNT
    beside = [choice for choice in tried if len(choice.parts) > 1]
    wanted = beside if candidate.fills and beside else tried
    return WORSE if any(starts(search.scorer, choice) for choice in wanted) else BESIDE
