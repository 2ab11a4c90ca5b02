"""Regular arrangements of fixtures over a tank: rows and columns with a pitch, round a middle."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from apps.photics.layout.choice import Choice, Part, fills_of, kept_parts
from apps.photics.layout.fitting import PLACE_STEP_CM, fitted
from apps.photics.layout.hanging import HungKind, Layout, kept_kinds
from apps.photics.layout.question import Places, Question
from apps.photics.layout.score import Scorer

# Pitches tried, as shares of an even spread over the tank [1], and how many heights within what is
# allowed: chosen, because the refinement finds what lies between.
PITCHES = (0.65, 0.85, 1.0)
HEIGHTS_TRIED = 3
FILL_HEIGHTS_TRIED = 2
# Where one tube or bar for fill lies from front to back, and how far several are spread, as shares
# of the width [1]: chosen like the pitches.
FILL_SINGLE, FILL_SPREAD = (0.15, 0.5, 0.85), (0.5, 0.7)


@dataclass(frozen=True)
class Pattern:
    """Rows and columns of fixtures round a middle, all lengths [cm]."""

    columns: int
    rows: int
    middle_x_cm: float
    middle_y_cm: float
    pitch_x_cm: float
    pitch_y_cm: float

    def places(self) -> tuple[tuple[float, float], ...]:
        """Return the middles of the fixtures, (columns x rows) pairs on the place lattice [cm].

        Evenly spaced: our own choice.
        """
        x = self.middle_x_cm + (np.arange(self.columns) - (self.columns - 1) / 2) * self.pitch_x_cm
        y = self.middle_y_cm + (np.arange(self.rows) - (self.rows - 1) / 2) * self.pitch_y_cm
        return tuple((snapped(a), snapped(b)) for b in y for a in x)


def snapped(length_cm: float) -> float:
    """Return the nearest place of the lattice [cm]."""
    return float(round(length_cm / PLACE_STEP_CM) * PLACE_STEP_CM)


def grids(count: int) -> list[tuple[int, int]]:
    """Return (columns, rows) for a count, each once."""
    return [(count // rows, rows) for rows in range(1, count + 1) if count % rows == 0]


def middles(question: Question) -> list[tuple[float, float]]:
    """Return the middles tried: that of the tank, and that of the zones by weight [cm].

    Also that of the brightest zone, and that of the panes where they are no box: our own choice.
    """
    tank = question.tank
    weight = np.array([zone.weight for zone in question.zones])
    centre = [(sum(zone.x_cm) / 2, sum(zone.y_cm) / 2) for zone in question.zones]
    x, y = weight @ np.array(centre) / weight.sum()
    tried = [(tank.length_cm / 2, tank.width_cm / 2), (snapped(x), snapped(y))]
    if not tank.is_box:
        tried.append((snapped(tank.rim.middle_cm[0]), snapped(tank.rim.middle_cm[1])))
    brightest = max(question.zones, key=lambda zone: zone.low_umol)
    tried.append((snapped(sum(brightest.x_cm) / 2), snapped(sum(brightest.y_cm) / 2)))
    return list(dict.fromkeys(tried))


def patterns(question: Question, number: int, count: int) -> list[Pattern]:
    """Return the Patterns tried for `count` fixtures of candidate `number`."""
    tank = question.tank
    along, across = question.candidates[number].sides_cm
    tried: list[Pattern] = []
    for columns, rows in grids(count):
        if (columns - 1) * along > tank.length_cm or (rows - 1) * across > tank.width_cm:
            continue
        # One fixture along a side has no pitch to try.
        wide = PITCHES if columns > 1 else PITCHES[-1:]
        deep = PITCHES if rows > 1 else PITCHES[-1:]
        for (x, y), a, b in product(middles(question), wide, deep):
            pitch_x, pitch_y = tank.length_cm / columns, tank.width_cm / rows
            tried.append(
                Pattern(columns, rows, x, y, max(a * pitch_x, along), max(b * pitch_y, across))
            )
    return list(dict.fromkeys(tried))


def heights(question: Question, tried: int) -> list[float]:
    """Return `tried` evenly spaced heights within what is allowed, whole centimetres [cm]."""
    low, high = question.limits.height_cm
    return list(dict.fromkeys(float(round(h)) for h in np.linspace(low, high, tried)
                              if low <= round(h) <= high)) or [float(low)]  # fmt: skip


def fill_patterns(question: Question, number: int, count: int) -> list[Pattern]:
    """Return the Patterns tried for a fill of `count` of candidate `number`: one row each."""
    tank, candidate = question.tank, question.candidates[number]
    middle_x, width = tank.length_cm / 2, tank.width_cm
    if count == 1:
        return [Pattern(1, 1, middle_x, at * width, 0.0, 0.0) for at in FILL_SINGLE]
    return [
        Pattern(1, count, middle_x, width / 2, 0.0,
                max(share * width / (count - 1), candidate.sides_cm[1]))
        for share in FILL_SPREAD
    ]  # fmt: skip


def starts(scorer: Scorer, choice: Choice) -> Sequence[Layout]:
    """Return the Layouts of all regular hangings of a choice that fit, or were made to fit.

    With tubes or bars beside other kinds, those are hung as is best for them alone.
    """
    question = scorer.question
    kept = kept_kinds(question)
    free = choice.parts[: len(choice.parts) - len(kept)]
    softer = fills_of(question, Choice(free)) if free else ()
    mains = tuple(part for k, part in enumerate(free) if k not in softer)
    hangings: Iterable[tuple[HungKind, ...]]
    if not free:
        hangings = [kept]
    elif not softer:
        hangings = ((*kinds, *kept) for kinds in main_kinds(question, mains))
    else:
        (fill,) = (free[k] for k in softer)
        hangings = (
            (*alone.hung[: len(mains)], tubes, *kept)
            for alone in scorer.best_alone(Choice((*mains, *kept_parts(question))), starts)
            for tubes in fill_kinds(question, fill)
        )
    tried = (Layout(kinds) for kinds in hangings)
    hung = (fitted(scorer, layout) for layout in tried)
    return list(dict.fromkeys(layout for layout in hung if layout is not None))


def main_kinds(question: Question, parts: Sequence[Part]) -> Iterator[tuple[HungKind, ...]]:
    """Yield the hangings tried for kinds that hang in one regular pattern, at one height."""
    for places, height in product(main_places(question, parts), heights(question, HEIGHTS_TRIED)):
        yield tuple(HungKind(part.candidate, part.beam_deg, at, height)
                    for part, at in zip(parts, places, strict=True))  # fmt: skip


def main_places(question: Question, parts: Sequence[Part]) -> Iterator[list[Places]]:
    """Yield the places tried for each of several kinds that hang in one regular pattern.

    Several kinds share it out: those behind the first stand in its middle, or at its ends.
    """
    count = sum(part.count for part in parts)
    widest = max(parts, key=lambda part: question.candidates[part.candidate].panel_x_cm)
    for pattern in patterns(question, widest.candidate, count):
        places = pattern.places()
        if len(parts) == 1:
            yield [places]
            continue
        middle = (pattern.middle_x_cm, pattern.middle_y_cm)
        near = sorted(places, key=lambda at: (at[0] - middle[0]) ** 2 + (at[1] - middle[1]) ** 2)
        for order in (near, near[::-1]):
            left, shared = list(order), []
            for part in parts[::-1]:
                shared.append(tuple(left[: part.count]))
                left = left[part.count :]
            yield shared[::-1]


def fill_kinds(question: Question, part: Part) -> Iterator[HungKind]:
    """Yield the hangings tried for tubes or bars beside other kinds."""
    for pattern, height in product(
        fill_patterns(question, part.candidate, part.count),
        heights(question, FILL_HEIGHTS_TRIED),
    ):
        yield HungKind(part.candidate, part.beam_deg, pattern.places(), height)
