"""Which jobs there are. Each is a function of the room it belongs to; the root puts it in here.

def warm_light(work: Work, *, tank_pk: int) -> None: ...

KINDS["warm_light"] = JobKind("Making the light map", warm_light)
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from apps.later.models import Job


@dataclass(frozen=True)
class JobAnswer:
    """What a job's page says once it is done, and where it leads on."""

    words: str
    address: str
    link: str
    # What the file is called that it made, where it made one.
    file_name: str = ""


@dataclass(frozen=True)
class JobKind:
    """What a job is called on its page, what it does, and what came of a done one.

    `run` is called with the Work and the job's arguments. It may be called again after a crash, so
    what it writes is written in one transaction that ends with `work.settle`, or is the same
    however often.
    """

    title: str
    run: Callable[..., Any]
    answer: Callable[[Job], JobAnswer] | None = None
    # Nobody waits for it: where nothing runs behind the pages, it is left out.
    only_behind: bool = False
    # Made ahead of those who may ask: it waits while a process is busy with pages, and is left out
    # where that lasts (`behind.py`).
    stands_back: bool = False
    # Where a keeper goes on after one that failed: an address, and the words of its link.
    again: Callable[[Job], tuple[str, str]] | None = None


KINDS: dict[str, JobKind] = {}


def kind_of(job: Job) -> JobKind:
    """Return what a job is; one that an older version knew is still listed until it is deleted."""
    return KINDS.get(job.name) or JobKind("A job of an earlier version", _forgotten)


def _forgotten(work: object, **arguments: object) -> None:
    raise NotImplementedError("This version does not know how to do this job.")
