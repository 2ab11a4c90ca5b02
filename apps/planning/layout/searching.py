"""Working on a layout plan, a little at a time, so that any worker can take the next turn.

Where jobs run behind the pages a search goes on when nobody looks, and pages look how far it is;
else each request works on it for a turn.
"""

import datetime as dt
import time
from dataclasses import dataclass
from functools import cached_property, lru_cache

from django.db import OperationalError, transaction

from apps.common.serving.row_locks import hold_row
from apps.later.kinds import JobKind
from apps.later.models import UNFINISHED, Job
from apps.later.queue import is_behind, put_down_once
from apps.later.running import Work
from apps.photics.layout.answers import Answer, answers
from apps.photics.layout.question import Question
from apps.photics.layout.search import Search, State
from apps.planning.documents import Document
from apps.planning.models import Plan
from apps.planning.stored_layout import StoredQuestion, read_question, read_state, write_state

# How long one request works on a search before it shows how far it came [s]: chosen, because a page
# that says nothing for longer seems dead.
TURN_S = 1.2
# So long one job searches, then others have their turn; so often a page looks for news [s]: chosen,
# because a turn is then shown within a fifth of it.
STRETCH_S, LOOK_S = 10.0, 0.2
SEARCH = "search_layout"
# A search that goes on is never called done [1]: its last steps may be many.
NEARLY_DONE = 0.99


@dataclass(frozen=True)
class SearchedPlan:
    """A plan with its stored question and search read once, and what follows from them."""

    stored: StoredQuestion
    state: State
    finished: bool
    stopped: bool
    # Something failed over it; it is stopped, too.
    broke: bool

    @property
    def rests(self) -> bool:
        """Return whether nobody works on it now."""
        return self.finished or self.stopped

    @property
    def search(self) -> Search:
        """Return the Search of its question."""
        return search_of(self.stored.question)

    @cached_property
    def answers(self) -> tuple[Answer, ...]:
        """Return the Answers so far, best first; none of a search that broke.

        What broke it may break what is made of its state.
        """
        if self.broke:
            return ()
        return answers(self.search.scorer, self.state.refined or self.state.screened)

    @property
    def share_done(self) -> float:
        """Return how much of the search is done, 0 to 1 [1]."""
        if self.finished:
            return 1.0
        # A search that was not begun costs nothing yet.
        if not self.state.step:
            return 0.0
        return min(self.state.step / max(self.search.steps(), 1), NEARLY_DONE)


def searched_plan(plan: Plan) -> SearchedPlan:
    """Return the SearchedPlan of a layout plan."""
    answer = plan.answer
    return SearchedPlan(
        stored=read_question(plan.asked),
        state=read_state(answer),
        finished=bool(answer and answer["finished"]),
        stopped=bool(answer and answer["stopped"]),
        broke=bool(answer and answer.get("broke")),
    )


@lru_cache(maxsize=4)
def search_of(question: Question) -> Search:
    """Return the Search of a question; its memory of light is kept while a worker goes on."""
    return Search(question)


def answer_after(plan: Plan, *, seconds: float = TURN_S) -> Document:
    """Return how far a plan's search is after some seconds [s] more; nothing is stored."""
    searched = searched_plan(plan)
    search, state = searched.search, searched.state
    end = time.monotonic() + seconds
    while not search.finished(state):
        state = search.advance(state)
        if time.monotonic() >= end:
            break
    return write_state(state, finished=search.finished(state))


def advance_search(*, plan: Plan, seconds: float = TURN_S) -> Plan:
    """Work on a plan's search for some seconds [s] and store how far it came.

    Two turns at once do no harm: the one that stores second finds the plan moved on and lets go.
    """
    before = plan.answer
    plan.answer = answer_after(plan, seconds=seconds)
    here = {"answer__step": before["step"], "answer__stopped": False} if before else {"answer": {}}
    if not Plan.objects.filter(pk=plan.pk, **here).update(answer=plan.answer):
        plan.refresh_from_db(fields=["answer"])
    return plan


def _held(plan: Plan) -> Plan:
    """Return a plan as it is stored, held until the transaction ends: no turn stores meanwhile."""
    return hold_row(Plan.objects, plan.pk)


@transaction.atomic
def stop_search(*, plan: Plan) -> Plan:
    """Let a search rest with its best so far."""
    plan.answer = _held(plan).answer
    if plan.answer and not plan.answer["finished"]:
        plan.answer = {**plan.answer, "stopped": True}
        plan.save(update_fields=["answer", "changed_at"])
    return plan


@transaction.atomic
def resume_search(*, plan: Plan) -> Plan:
    """Let a search that was stopped, or broke, go on from where it rests."""
    plan.answer = _held(plan).answer
    if plan.answer and plan.answer["stopped"]:
        plan.answer = {**plan.answer, "stopped": False, "broke": False}
        plan.save(update_fields=["answer", "changed_at"])
    return plan


def take_turn(*, plan: Plan) -> Plan:
    """Let a search go on for a turn and return the plan as far as it came.

    Where jobs run behind the pages they search, and this waits a turn for news of them.
    """
    if not is_behind():
        return advance_search(plan=plan)
    before = plan.answer
    search_on(plan)
    until = time.monotonic() + TURN_S
    while time.monotonic() < until and plan.answer == before:
        time.sleep(LOOK_S)
        plan.refresh_from_db(fields=["answer"])
    return plan


def search_on(plan: Plan) -> None:
    """Let a job search, unless one does."""
    subject = f"plan {plan.pk}"
    if not Job.objects.filter(name=SEARCH, subject=subject, state__in=UNFINISHED).exists():
        _put_down(plan.pk)


def _put_down(plan_pk: int) -> None:
    arguments = {"plan_pk": plan_pk}
    put_down_once(SEARCH, subject=f"plan {plan_pk}", arguments=arguments, delay=dt.timedelta())


def search_layout(work: Work, *, plan_pk: int) -> None:
    """Search for a stretch; what is left is left to another job. It ends where the search rests."""
    until = time.monotonic() + STRETCH_S
    while (plan := Plan.objects.present().filter(pk=plan_pk).first()) is not None:
        if searched_plan(plan).rests:
            return
        if time.monotonic() >= until:
            _put_down(plan_pk)
            return
        try:
            advance_search(plan=plan)
        except OperationalError:
            raise
        except Exception:
            _rest_broken(plan)
            raise


@transaction.atomic
def _rest_broken(plan: Plan) -> None:
    """Let a search rest that breaks, or each look of a page would begin it anew."""
    now = Plan.objects.present().select_for_update(no_key=True).filter(pk=plan.pk).first()
    # Of another question, or taken on by another, it may well go on.
    if now is None or (now.asked, now.answer) != (plan.asked, plan.answer):
        return
    now.answer = {**(now.answer or write_state(State())), "stopped": True, "broke": True}
    now.save(update_fields=["answer", "changed_at"])


SEARCH_KIND = JobKind("Searching a layout", search_layout, only_behind=True)
