"""What tanks say together, worked out anew once a night: by a command, or as a job on workers."""

import datetime as dt
from dataclasses import asdict, dataclass

from apps.later.kinds import JobKind
from apps.later.queue import put_down_once, under_way
from apps.later.running import Work
from apps.outcomes.models import PoolShare
from apps.outcomes.pool.clubs import recompute_clubs
from apps.outcomes.pool.pooling import recompute_pool, refresh_parts

POOL = "pool_outcomes"


@dataclass(frozen=True)
class PoolRound:
    """What one round came to."""

    tanks: int
    changed: int
    curves: int
    curves_of_clubs: int


def pool_all() -> PoolRound:
    """Work out changed tanks among those whose owners agreed, and add all up; again: the same."""
    changed = refresh_parts(PoolShare.objects.all())
    return PoolRound(
        tanks=PoolShare.objects.count(),
        changed=changed,
        curves=recompute_pool(),
        curves_of_clubs=recompute_clubs(),
    )


def pool_soon() -> None:
    """Let a worker do it, unless a round is under way: two at once would do the same work."""
    if under_way(POOL, keeper=None) is None:
        put_down_once(POOL, subject="all tanks", arguments={}, delay=dt.timedelta())


def pool_behind(work: Work) -> None:
    """Do a round as a job, which ends with what it came to."""
    work.settle(asdict(pool_all()))


POOL_KIND = JobKind("Pooling outcomes", pool_behind)
