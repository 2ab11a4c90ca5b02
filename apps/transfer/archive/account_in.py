"""Any zip of reeflog into an account: one tank, what is a keeper's own, or a whole account."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction

from apps.accounts.models import User
from apps.later.progress import Progress, unheard
from apps.transfer.archive import form
from apps.transfer.archive.form import MEMORY_BYTES, UnfitZip
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.archive.restoring import Restored, restore
from apps.transfer.models import Arrival

# How finely the whole is said to go on while one part of it does.
STEPS = 1000


@transaction.atomic
def bring_in(
    opened: OpenedZip,
    *,
    keeper: User,
    arrival: Arrival | None = None,
    progress: Progress = unheard,
) -> list[Restored]:
    """Store all that a zip holds under a keeper, or raise UnfitZip and store nothing."""
    if opened.manifest.kind != form.ACCOUNT:
        return [restore(opened, keeper=keeper, arrival=arrival, progress=progress)]
    names, result = inner_names(opened), []
    for at, name in enumerate(names):
        part = part_of(progress, at, len(names))
        with inner_zip(opened, name) as inner:
            result.append(restore(inner, keeper=keeper, arrival=arrival, progress=part))
    return result


def part_of(progress: Progress, at: int, parts: int) -> Progress:
    """Return what hears of one of so many parts, and says how far the whole is."""
    return lambda done, of: progress(at * STEPS + STEPS * done // max(of, 1), parts * STEPS)


def inner_names(opened: OpenedZip) -> list[str]:
    """Return the zips of an account: what is its own first, since tanks point to that."""
    tanks = sorted((n for n in opened.names() if n.startswith("tanks/")), key=_number)
    return [*(["own.zip"] if "own.zip" in opened.names() else []), *tanks]


def _number(name: str) -> int:
    return int(name.removeprefix("tanks/").removesuffix(".zip"))


@contextmanager
def inner_zip(opened: OpenedZip, name: str) -> Iterator[OpenedZip]:
    """Open a zip within a zip, checked like any other."""
    with tempfile.SpooledTemporaryFile(max_size=MEMORY_BYTES) as file:
        opened.copy_to(name, file)
        try:
            inner = OpenedZip(file)
        except UnfitZip as problem:
            raise UnfitZip(problem.code, f"{name}: {problem}") from None
        with inner:
            yield inner
