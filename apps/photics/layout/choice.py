"""Which fixtures hang: kinds with their optics and counts, and what limits leave of them."""

from dataclasses import dataclass

from apps.photics.layout.question import Candidate, Question

# How far past the panes the end of a tube or bar may stand where no canopy forbids it [cm]: chosen,
# because their caps give no light.
OVERHANG_CM = 5.0
# Dust of a sum of prices, watts or lengths [theirs]: chosen, because rounding breaks no limit.
DUST = 1e-9

# Where the middle of a fixture may hang: from and to along x, from and to along y [cm].
Room = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Part:
    """So many of one candidate with one optic."""

    candidate: int
    beam_deg: float
    count: int


@dataclass(frozen=True)
class Choice:
    """Which fixtures hang, not yet where: those that hang anew first, those that stay last."""

    parts: tuple[Part, ...]

    @property
    def main(self) -> int:
        """Return the candidate of the first kind."""
        return self.parts[0].candidate

    @property
    def beam_deg(self) -> float:
        """Return the beam of the first kind [degrees]."""
        return self.parts[0].beam_deg

    @property
    def count(self) -> int:
        """Return how many fixtures hang in all."""
        return sum(part.count for part in self.parts)


def one_kind(candidate: int, beam_deg: float, count: int) -> Choice:
    """Return the Choice of so many of one candidate with a beam [degrees]."""
    return Choice((Part(candidate, beam_deg, count),))


def fills_of(question: Question, choice: Choice) -> tuple[int, ...]:
    """Return the places among its kinds of tubes and bars that hang beside another kind."""
    softer = [k for k, part in enumerate(choice.parts)
              if question.candidates[part.candidate].fills]  # fmt: skip
    return () if len(softer) == len(choice.parts) else tuple(softer)


def kept_parts(question: Question) -> tuple[Part, ...]:
    """Return the Parts that hang already and stay."""
    return tuple(
        Part(number, candidate.beams_deg[0], len(candidate.kept_at_cm))
        for number, candidate in enumerate(question.candidates)
        if candidate.is_kept
    )


def price_of(question: Question, choice: Choice) -> float | None:
    """Return the price of what has still to be bought, in the one unit of the budget.

    None where one is not known.
    """
    total = 0.0
    for part in choice.parts:
        candidate = question.candidates[part.candidate]
        missing = missing_of(candidate, part.count)
        if missing and candidate.price is None:
            return None
        total += missing * (candidate.price or 0.0)
    return total


def missing_of(candidate: Candidate, count: int) -> int:
    """Return how many of so many have still to be bought."""
    return 0 if candidate.is_kept else max(count - candidate.owned, 0)


def used_of(question: Question, choice: Choice) -> int:
    """Return how many fixtures of a choice one has already."""
    return sum(
        part.count - missing_of(question.candidates[part.candidate], part.count)
        for part in choice.parts
    )


def watts_of(question: Question, choice: Choice) -> float | None:
    """Return the rated watts of a choice at full level, None where they are not known [W]."""
    total = 0.0
    for part in choice.parts:
        watts = question.candidates[part.candidate].watts
        if watts is None:
            return None
        total += part.count * watts
    return total


def forbids(question: Question, choice: Choice) -> str:
    """Return which limit a choice breaks: "room", "budget", "watts" or "" for none."""
    limits = question.limits
    free = [part.candidate for part in choice.parts
            if not question.candidates[part.candidate].is_kept]  # fmt: skip
    if any(room(question, question.candidates[number]) is None for number in free):
        return "room"
    price, watts = price_of(question, choice), watts_of(question, choice)
    if limits.budget is not None and price is not None and price > limits.budget + DUST:
        return "budget"
    if limits.watts is not None and watts is not None and watts > limits.watts + DUST:
        return "watts"
    return ""


def allowed(question: Question, choice: Choice) -> bool:
    """Return whether a choice keeps the budget, the power and the room there is."""
    return not forbids(question, choice)


def room(question: Question, candidate: Candidate) -> Room | None:
    """Return where the middle of a fixture may hang [cm], None where nowhere."""
    limits, tank = question.limits, question.tank
    over = OVERHANG_CM if candidate.fills and not limits.canopy else 0.0
    along, across = candidate.sides_cm
    ranges = []
    for (start, end), side, size in (
        (limits.x_cm, tank.length_cm, along),
        (limits.y_cm, tank.width_cm, across),
    ):
        low, high = size / 2 - over, side - size / 2 + over
        if low > high and not limits.canopy:
            # Larger than the tank: over its middle or nowhere.
            low = high = side / 2
        low, high = max(start, low), min(end, high)
        if low > high + DUST:
            return None
        ranges.append((low, max(high, low)))
    along_x, along_y = ranges
    return along_x, along_y
