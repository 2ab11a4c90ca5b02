"""The search for a layout: every allowed choice hung regularly, the best ones refined.

Each step is small and deterministic, and what is known after it is one record: a search can be
stopped after any step with the best so far, or taken up again elsewhere.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from apps.photics.layout.choice import Choice, fills_of, missing_of
from apps.photics.layout.fixes import FIXES, Fix, try_fix
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.places import snapped, starts
from apps.photics.layout.question import Places, Question
from apps.photics.layout.score import NOTHING, SERVED, Score, Scorer
from apps.photics.layout.shortlist import choices, cost_of
from apps.photics.layout.softness import softened

# How many choices are refined: the best of each count first, then the best that are left. Chosen,
# because a keeper waits for them.
REFINED = 6
# A choice this much worse than the best is refined if it is among the so many cheapest [1], and the
# best choice of so many other counts: chosen, because places can still make good what a regular
# hanging lacks, and a keeper wants to see what less money buys.
NEARLY, CHEAPEST, OF_COUNTS = 0.12, 2, 2
# From how many regular hangings of a choice the refinement starts: chosen, so that one poor start
# does not decide.
STARTS = 2
# A start this much worse than the best one of its choice is left [1]: chosen, because refining
# seldom turns them round.
AS_GOOD = 0.03
# Step sizes of the refinement [cm], and how often each is tried at most: chosen, from about a tenth
# of a small tank down to what a keeper can hang to.
PATTERN_STEPS_CM, PLACE_STEPS_CM = (6.0, 3.0, 1.0), (4.0, 2.0, 1.0)
SWEEPS_MOST = 6
# A step that lifts the objective by less is none [1]: chosen above the dust of its sums.
BARELY = 1e-6


@dataclass(frozen=True)
class Rated:
    """A layout and its objective [1]."""

    layout: Layout
    value: float


@dataclass(frozen=True)
class State:
    """How far a search has come; JSON's shape is the caller's business."""

    step: int = 0
    scored: int = 0
    screened: tuple[Rated, ...] = ()  # best first within each choice
    refined: tuple[Rated, ...] = ()
    fixes: tuple[Fix, ...] = ()

    def best(self) -> Rated | None:
        """Return the best Rated layout so far, None before there is one."""
        return max((*self.refined, *self.screened), key=lambda rated: rated.value, default=None)


@dataclass
class Search:
    """A question worked on step by step: `advance` a State until `finished`."""

    question: Question
    scorer: Scorer = field(init=False)
    choices: tuple[Choice, ...] = field(init=False)
    many_refined: int = field(init=False)

    def __post_init__(self) -> None:
        self.scorer = Scorer(self.question)
        self.choices = choices(self.question)
        self.many_refined = min(REFINED, len(self.choices))

    def steps(self) -> int:
        """Return how many steps the search takes at most."""
        return len(self.choices) + self.many_refined + len(FIXES)

    def finished(self, state: State) -> bool:
        """Return whether nothing is left to do from a State on."""
        if not self.has_refined(state):
            return False
        return state.step >= self.steps() or not state.refined or self.serves(state)

    def serves(self, state: State) -> bool:
        """Return whether the best layout so far serves every zone."""
        best = state.best()
        return best is not None and min(self.scorer.score(best.layout).zone_shares) >= SERVED

    def advance(self, state: State) -> State:
        """Return the State after one more step."""
        before = self.scorer.scored
        if state.step < len(self.choices):
            hung = screen(self.scorer, self.choices[state.step])
            state = replace(state, screened=leaders(self.question, (*state.screened, *hung)))
        elif state.step < len(self.choices) + self.many_refined:
            state = replace(state, refined=(*state.refined, *self.refine_next(state)))
        elif (best := state.best()) is not None:
            name = FIXES[state.step - len(self.choices) - self.many_refined]
            fix = try_fix(self.question, name, best.layout, quick_search)
            state = replace(state, fixes=(*state.fixes, *([fix] if fix else [])))
        scored = state.scored + self.scorer.scored - before
        return replace(state, step=state.step + 1, scored=scored)

    def refine_next(self, state: State) -> tuple[Rated, ...]:
        """Return the refined layouts of the next choice in line, none when there is no start."""
        order = in_line(self.question, state.screened)
        number = state.step - len(self.choices)
        if number >= len(order):
            return ()
        own = [f for f in state.screened if f.layout.choice == order[number]][:STARTS]
        own = [f for f in own if f.value >= own[0].value - AS_GOOD]
        best = max((refine(self.scorer, f) for f in own), key=lambda f: f.value)
        fewer = thinned(self.scorer, best)
        # The objective does not know shadows: a mixed rig is kept with more of its fill as well.
        softer = softened(self.scorer, best.layout)
        return (best, *fewer, *([Rated(*softer)] if softer else ()))

    def has_refined(self, state: State) -> bool:
        """Return whether all that is refined is: what is left are remedies."""
        return state.step >= len(self.choices) + self.many_refined

    def run(
        self,
        state: State | None = None,
        *,
        progress: Callable[[float], None] | None = None,
        stop: Callable[[State], bool] | None = None,
    ) -> State:
        """Advance to the end, or until stop(state) says so; progress(share [1]) after each step."""
        state = state or State()
        while not self.finished(state) and not (stop and stop(state)):
            state = self.advance(state)
            if progress:
                progress(min(state.step / self.steps(), 1.0))
        return state


def in_line(question: Question, screened: Iterable[Rated]) -> list[Choice]:
    """Return the Choices in the order they are refined.

    First the best, then the cheapest of those not much worse, the best with fills, and the best of
    other counts; then what scores best.
    """
    best: dict[Choice, float] = {}
    for rated in screened:
        choice = rated.layout.choice
        best[choice] = max(best.get(choice, NOTHING), rated.value)
    ranked = sorted(best, key=lambda choice: -best[choice])
    near = [choice for choice in ranked if best[choice] >= best[ranked[0]] - NEARLY]
    first: dict[int, Choice] = {}
    for choice in ranked:
        first.setdefault(choice.count, choice)
    line = [
        *ranked[:1],
        *sorted(near, key=lambda choice: cost_of(question, choice))[:CHEAPEST],
        *[choice for choice in ranked if fills_of(question, choice)][:1],
        *sorted(first.values(), key=lambda choice: -best[choice])[:OF_COUNTS],
        *ranked,
    ]
    return list(dict.fromkeys(line))


def leaders(question: Question, screened: Sequence[Rated]) -> tuple[Rated, ...]:
    """Return those of the choices that may still be refined: no later one lifts the others."""
    kept = set(in_line(question, screened)[: 3 * REFINED])
    return tuple(rated for rated in screened if rated.layout.choice in kept)


def screen(scorer: Scorer, choice: Choice) -> list[Rated]:
    """Return the STARTS best regular hangings of a choice, best first."""
    hung = [Rated(*best) for best in scorer.best_of(starts(scorer, choice))]
    return sorted(hung, key=lambda rated: -rated.value)[:STARTS]


def refine(scorer: Scorer, rated: Rated) -> Rated:
    """Return the layout after all steps that improve it: all together first, then one by one."""
    for size in PATTERN_STEPS_CM:
        rated = climb(scorer, rated, partial(together, scorer.question, size_cm=size))
    for size in PLACE_STEPS_CM:
        rated = climb(scorer, rated, partial(apart, scorer.question, size_cm=size))
    return rated


def thinned(scorer: Scorer, rated: Rated) -> list[Rated]:
    """Return the layout with ever fewer of the fixtures that are to be bought, while it serves.

    Each time the one is left out that is missed least; those that stay are moved anew at the end.
    """
    question, layout, best = scorer.question, rated.layout, None
    while missing := missing_fixtures(question, layout):
        every = set(range(len(layout.places_cm)))
        fewer = [Rated(*one) for one in
                 scorer.best_of([layout.only(every - {k}) for k in missing])]  # fmt: skip
        kept = max(fewer, key=lambda one: one.value)
        if kept.value <= NOTHING or min(scorer.score(kept.layout).zone_shares) < SERVED:
            break
        best, layout = kept, kept.layout
    return [] if best is None else [refine(scorer, best)]


def missing_fixtures(question: Question, layout: Layout) -> list[int]:
    """Return the numbers of a layout's fixtures of which some are to be bought, if it has more."""
    numbers: list[int] = []
    first = 0
    for kind in layout.hung:
        count = len(kind.places_cm)
        if missing_of(question.candidates[kind.candidate], count):
            numbers += range(first, first + count)
        first += count
    return numbers if first > 1 else []


def climb(scorer: Scorer, rated: Rated, neighbours: Callable[[Layout], Sequence[Layout]]) -> Rated:
    """Return the best layout that steps to better neighbours lead to."""
    for _ in range(SWEEPS_MOST):
        better = max(
            (Rated(*best) for best in scorer.best_of(neighbours(rated.layout))),
            key=lambda one: one.value,
            default=rated,
        )
        if better.value <= rated.value + BARELY:
            return rated
        rated = better
    return rated


def together(question: Question, layout: Layout, size_cm: float) -> list[Layout]:
    """Return the layouts one step [cm] away that move a whole kind: up, along, apart."""
    moves = []
    for k, kind in free_kinds(question, layout):
        for sign in (-size_cm, size_cm):
            moves.append(layout.with_kind(k, kind._replace(height_cm=kind.height_cm + sign)))
            moves += [layout.with_kind(k, kind._replace(places_cm=places))
                      for places in shifted(kind.places_cm, sign)]  # fmt: skip
    return moves


def free_kinds(question: Question, layout: Layout) -> list[tuple[int, HungKind]]:
    """Return the place in a layout, and the HungKind, of each kind that may be moved."""
    return [(k, kind) for k, kind in enumerate(layout.hung)
            if not question.candidates[kind.candidate].is_kept]  # fmt: skip


def shifted(places: Places, by_cm: float) -> list[Places]:
    """Return places moved along each axis [cm], and spread or drawn together along each."""
    moved: list[Places] = [
        tuple((x + by_cm, y) for x, y in places),
        tuple((x, y + by_cm) for x, y in places),
    ]
    for axis in (0, 1):
        at = [place[axis] for place in places]
        half = (max(at) - min(at)) / 2
        if half < 1.0:
            continue
        middle, factor = (max(at) + min(at)) / 2, 1.0 + by_cm / half
        spread = [snapped(middle + (value - middle) * factor) for value in at]
        moved.append(
            tuple((s, y) if axis == 0 else (x, s) for s, (x, y) in zip(spread, places, strict=True))
        )
    return moved


def apart(question: Question, layout: Layout, size_cm: float) -> list[Layout]:
    """Return the layouts one step [cm] away that move one fixture, or the height of a kind."""
    moves = []
    for k, kind in free_kinds(question, layout):
        moves += [layout.with_kind(k, kind._replace(places_cm=places))
                  for places in one_moved(kind.places_cm, size_cm)]  # fmt: skip
        moves += [layout.with_kind(k, kind._replace(height_cm=kind.height_cm + sign))
                  for sign in (-size_cm, size_cm)]  # fmt: skip
    return moves


def one_moved(places: Places, by_cm: float) -> list[Places]:
    """Return places with one of them moved one step [cm] along an axis."""
    return [
        (*places[:k], (x + dx, y + dy), *places[k + 1 :])
        for k, (x, y) in enumerate(places)
        for dx, dy in ((by_cm, 0), (-by_cm, 0), (0, by_cm), (0, -by_cm))
    ]


def quick_search(
    question: Question, start: Layout | None = None
) -> tuple[Layout, Score] | tuple[None, None]:
    """Return the best Layout and its Score by one refinement, from `start` too; None, None without.

    The start is a layout of this question, such as the best one before a remedy. As many fixtures
    hang as may: a remedy with fewer is another answer, and costs the most time.
    """
    scorer, limits = Scorer(question), question.limits
    most = [c for c in choices(question) if c.count == limits.count + limits.fill_count]
    hung = [rated for choice in most for rated in screen(scorer, choice)]
    if start is not None:
        hung += [Rated(*best) for best in scorer.best_of([start])]
    best = max(hung, key=lambda f: f.value, default=None)
    if best is None or best.value == NOTHING:
        return None, None
    best = refine(scorer, best)
    return best.layout, scorer.score(best.layout)
