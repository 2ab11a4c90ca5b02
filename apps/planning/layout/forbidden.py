"""Why a fixture of a question can't hang: which of its limits is in the way, and by how much."""

from collections.abc import Callable, Iterator

from apps.photics.layout.choice import OVERHANG_CM, forbids, missing_of, one_kind, room
from apps.photics.layout.question import Candidate, Question

# A length [cm] as the reader's unit tells it, with the unit.
LengthText = Callable[[float], str]
# Shown to the tenth of a mm, below which nothing is in the way [cm].
BARELY_CM = 0.01


def forbidding(question: Question, length: LengthText) -> dict[str, tuple[str, ...]]:
    """Return for each fixture of which not even one may hang, by name, what forbids it."""
    return {
        candidate.name: tuple(reasons(question, candidate, length))
        for number, candidate in enumerate(question.candidates)
        if not candidate.is_kept and forbids(question, one_kind(number, candidate.beams_deg[0], 1))
    }


def reasons(question: Question, candidate: Candidate, length: LengthText) -> Iterator[str]:
    """Yield what keeps even one of a candidate from hanging, one sentence for each limit."""
    limits = question.limits
    price = None if candidate.price is None else missing_of(candidate, 1) * candidate.price
    if limits.budget is not None and price is not None and price > limits.budget:
        yield f"one costs {price:.2f}, the budget is {limits.budget:.2f}"
    if limits.watts is not None and candidate.watts and candidate.watts > limits.watts:
        yield f"one takes {candidate.watts:.0f} W, {limits.watts:.0f} W are allowed"
    if room(question, candidate) is None:
        yield from room_reasons(question, candidate, length)


def room_reasons(question: Question, candidate: Candidate, length: LengthText) -> Iterator[str]:
    """Yield which side leaves no room, by how much, and what stands in the way."""
    limits, tank = question.limits, question.tank
    over = OVERHANG_CM if candidate.fills and not limits.canopy else 0.0
    for words, (start, end), side, size in (
        ("long", limits.x_cm, tank.length_cm, candidate.sides_cm[0]),
        ("wide", limits.y_cm, tank.width_cm, candidate.sides_cm[1]),
    ):
        axis = "left" if words == "long" else "front"
        least, most = size / 2 - over, side - size / 2 + over
        if least > most:
            if limits.canopy:
                yield (
                    f"it is {length(size)} {words}, {length(least - most)} more than fits below "
                    f"a canopy on the rim"
                )
                continue
            least = most = side / 2
        short = max(least - end, start - most)
        if short > BARELY_CM:
            yield (
                f"it is {length(size)} {words}, so its middle must hang between {length(least)} "
                f"and {length(most)} from the {axis}; the limits allow {length(start)} to "
                f"{length(end)}"
            )
