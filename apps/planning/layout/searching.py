"""Working on a layout plan: a little at each request, so that any worker can take the next turn."""

import time
from functools import lru_cache

from apps.photics.layout.answers import answers
from apps.photics.layout.search import Search
from apps.planning.layout_documents import asked_from_json, state_from_json, state_to_json
from apps.planning.models import Plan

# How long one request works on a search before it shows how far it came [s].
TURN_S = 1.2


@lru_cache(maxsize=4)
def search_of(question):
    """Return the Search of a question; its memory of light is kept while a worker goes on."""
    return Search(question)


def advance_search(*, plan, seconds=TURN_S):
    """Work on a plan's search for a while and store how far it came.

    Two turns at once do no harm: the one that stores second finds the plan moved on and lets go.
    """
    search = search_of(asked_from_json(plan.asked).question)
    before = plan.answer
    state = state_from_json(before)
    end = time.monotonic() + seconds
    while not search.finished(state):
        state = search.advance(state)
        if time.monotonic() >= end:
            break
    plan.answer = state_to_json(state, finished=search.finished(state))
    here = {"answer__step": before["step"], "answer__stopped": False} if before else {"answer": {}}
    if not Plan.objects.filter(pk=plan.pk, **here).update(answer=plan.answer):
        plan.refresh_from_db(fields=["answer"])
    return plan


def stop_search(*, plan):
    """Let a search rest with the best it found so far."""
    if plan.answer and not plan.answer["finished"]:
        plan.answer = {**plan.answer, "stopped": True}
        plan.save(update_fields=["answer", "changed_at"])
    return plan


def resume_search(*, plan):
    """Let a stopped search go on from where it rests."""
    if plan.answer and plan.answer["stopped"]:
        plan.answer = {**plan.answer, "stopped": False}
        plan.save(update_fields=["answer", "changed_at"])
    return plan


def share_done(plan):
    """Return how much of the search is done, 0 to 1."""
    if not plan.answer:
        return 0.0
    if plan.answer["finished"]:
        return 1.0
    search = search_of(asked_from_json(plan.asked).question)
    return min(plan.answer["step"] / max(search.steps(), 1), 0.99)


def answers_of(plan):
    """Return the Search, its State and the Answers of a plan so far."""
    search = search_of(asked_from_json(plan.asked).question)
    state = state_from_json(plan.answer)
    return search, state, answers(search.scorer, state.refined or state.screened)
