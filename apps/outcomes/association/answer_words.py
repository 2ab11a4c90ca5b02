"""A verdict in a keeper's words: what it comes to, what that means, and all in one sentence."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.text import capfirst

from apps.outcomes.association.events import Direction
from apps.outcomes.association.verdict import Q_CLAIM, Judgement
from apps.photics.causes.association import ELSEWHERE, ENOUGH, POINTS, UNSURE
from apps.photics.causes.judgement import Ground

# By the question: what is seen, the light that would do it, and which light goes with it.
SEEN = {Direction.LIGHTER: "paling", Direction.DARKER: "browning"}
CAUSE = {Direction.LIGHTER: "too much light", Direction.DARKER: "too little light"}
MORE = {Direction.LIGHTER: "more light", Direction.DARKER: "less light"}
BACK = {Direction.LIGHTER: "Bring the light down", Direction.DARKER: "Give more light"}


def comes_to(judged: Judgement) -> str:
    """Return what the notes of one question come to, as a clause behind the verdict."""
    seen, more = SEEN[judged.direction], MORE[judged.direction]
    result = judged.within.association
    if judged.verdict == ENOUGH:
        return f"{seen} follows {more}, and corals compared week by week bear it out."
    if judged.verdict == POINTS:
        return f"{seen} goes with {more}, but chance or another cause could look the same."
    if judged.verdict == ELSEWHERE:
        if Ground.WATER_EVENTS in result.grounds:
            return f"{seen} goes with logged water events, not clearly with light."
        return f"the notes show no strong link between {seen} and {more}."
    return undecided(judged)


def undecided(judged: Judgement) -> str:
    """Return why a question stays open."""
    result = judged.within.association
    if judged.across.verdict == "no_light":
        return "the light beforehand is not known."
    if result.verdict in (ENOUGH, POINTS) and (judged.within_q or 0.0) >= Q_CLAIM:
        return "one comparison points to light, but among so many that may be chance."
    if result.verdict != UNSURE:
        return "each coral over time and the corals side by side say opposite things."
    if judged.within.has_figures and Ground.ONE_WEEK not in result.grounds:
        return "the notes could look like this whether or not light is the cause."
    return result.reason[:1].lower() + result.reason[1:]


def means(judged: Judgement) -> str:
    """Return what a verdict means for the keeper."""
    return {
        ENOUGH: f"{BACK[judged.direction]} in small steps, and note the effect every week.",
        POINTS: "Try it on one coral before you change the light over the whole tank.",
        ELSEWHERE: "Leave the light as it is; look at water, flow and pests first.",
        UNSURE: "No reason to change the light yet. Keep taking notes, on healthy corals too.",
    }[judged.verdict]


@dataclass(frozen=True)
class InCommon:
    """What several questions come to and mean alike; "" where they differ, or there is but one."""

    comes_to: str
    means: str


def in_common(judgements: Sequence[Judgement]) -> InCommon:
    """Return the InCommon of some questions, so that it is said once."""
    texts = [{say(judged) for judged in judgements} for say in (comes_to, means)]
    alike = [some.pop() if len(judgements) > 1 and len(some) == 1 else "" for some in texts]
    return InCommon(*alike)


def in_one_sentence(judgements: Sequence[Judgement]) -> str:
    """Return what all questions come to, in one sentence; "" without any.

    Questions of one verdict are named together.
    """
    clauses = []
    for verdict in (ENOUGH, POINTS, ELSEWHERE, UNSURE):
        directions = [judged.direction for judged in judgements if judged.verdict == verdict]
        if verdict in (ENOUGH, POINTS):
            clauses += [leaning(direction, verdict) for direction in directions]
        elif directions:
            seen = " and ".join(SEEN[direction] for direction in directions)
            clauses.append(apart(seen, verdict, "s" if len(directions) == 1 else ""))
    return capfirst("; ".join(clauses)) + "." if clauses else ""


def leaning(direction: Direction, verdict: str) -> str:
    """Return the clause of one question whose verdict leans to the light."""
    how_far = "clearly enough to act on" if verdict == ENOUGH else "but that is not settled yet"
    return f"{SEEN[direction]} points to {CAUSE[direction]}, {how_far}"


def apart(seen: str, verdict: str, ending: str) -> str:
    """Return the clause of what does not lean to it; `ending` of its verb."""
    if verdict == ELSEWHERE:
        return f"{seen} point{ending} away from the light"
    return f"these notes can’t tell yet whether {seen} come{ending} from the light"
