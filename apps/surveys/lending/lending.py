"""Who has a club's meter: asking for it, handing it over, giving it back to the club."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Prefetch, QuerySet

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.common.serving.row_locks import hold_row
from apps.surveys.models import Meter, MeterLoan

# Chosen: an afternoon to measure, and the days until two people meet on both sides of it.
TURN = dt.timedelta(days=14)
# As many past turns as are read, chosen.
OVER_SHOWN = 20


@dataclass(frozen=True)
class LendingList:
    """The turn under way, those who wait in their order, and the last ones that are over."""

    held: MeterLoan | None
    waiting: tuple[MeterLoan, ...]
    over: tuple[MeterLoan, ...]

    @property
    def next(self) -> MeterLoan | None:
        return self.waiting[0] if self.waiting else None

    def turn_of(self, user: User) -> MeterLoan | None:
        """Return the turn that a keeper has or waits for."""
        turns = [self.held, *self.waiting]
        return next((turn for turn in turns if turn and turn.keeper_id == user.pk), None)


def with_loans(meters: QuerySet[Meter]) -> QuerySet[Meter]:
    """Return meters with all turns, so that `lending_list` of each reads no more rows."""
    return meters.prefetch_related(Prefetch("loans", MeterLoan.objects.select_related("keeper")))


def lending_list(meter: Meter) -> LendingList:
    known = getattr(meter, "_prefetched_objects_cache", {}).get("loans")
    loans = list(meter.loans.select_related("keeper") if known is None else known)
    over = sorted((t for t in loans if t.ended_on), key=lambda t: (t.ended_on, t.pk), reverse=True)
    present = [turn for turn in loans if not turn.ended_on]
    waiting = sorted((t for t in present if not t.since), key=lambda t: (t.queued_at, t.pk))
    held = next((turn for turn in present if turn.since), None)
    return LendingList(held, tuple(waiting), tuple(over[:OVER_SHOWN]))


def may_hand(*, user: User, lent: LendingList, leads: bool) -> bool:
    """Tell whether a member may note where the meter goes: who has it, who is next, an officer."""
    turns = (lent.held, lent.next)
    return leads or any(turn and turn.keeper_id == user.pk for turn in turns)


def ask(*, meter: Meter, user: User) -> None:
    """Put a member on the list; who has it or waits already stays where they are."""
    MeterLoan.objects.get_or_create(meter=meter, keeper=user, ended_on=None)


def withdraw(*, meter: Meter, user: User) -> None:
    """Take a waiting member off the list."""
    meter.loans.waiting().filter(keeper=user).delete()


@transaction.atomic
def hand_over(*, meter: Meter, to: User, day: dt.date) -> MeterLoan:
    """End the turn under way and begin another's, whether or not they had asked."""
    _hold(meter)
    meter.loans.held().exclude(keeper=to).update(ended_on=day)
    turn, _ = MeterLoan.objects.get_or_create(meter=meter, keeper=to, ended_on=None)
    if turn.since is None:
        turn.since, turn.until = day, day + TURN
        turn.save(update_fields=["since", "until"])
    return turn


@transaction.atomic
def bring_back(*, meter: Meter, day: dt.date) -> None:
    """End the turn under way; the meter is with the club."""
    _hold(meter)
    meter.loans.held().update(ended_on=day)


def keep_until(*, meter: Meter, until: dt.date) -> None:
    """Set when the turn under way is to end."""
    meter.loans.held().update(until=until)


def turns_taken_along(user: User, club: Club) -> Iterable[QuerySet]:
    """Yield a keeper's turns with the club's meters, past ones too: they go with them."""
    yield MeterLoan.objects.filter(keeper=user, meter__club=club).select_related("meter")


def clubs_meters(club: Club) -> Iterable[QuerySet]:
    """Yield the meters of a club, deleted or not."""
    yield Meter._base_manager.filter(club=club)


def _hold(meter: Meter) -> None:
    """Let one change of who has it at a time through."""
    hold_row(Meter._base_manager, meter.pk)
