"""Any zip of reeflog into an account: one tank, what is a keeper's own, or a whole account."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction

from apps.accounts.models import User
from apps.transfer.archive import form
from apps.transfer.archive.form import UnfitZip
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.archive.restoring import Restored, restore
from apps.transfer.models import Arrival

MEMORY_BYTES = 8_000_000


@transaction.atomic
def bring_in(opened: OpenedZip, *, keeper: User, arrival: Arrival | None = None) -> list[Restored]:
    """Store all that a zip holds under a keeper, or raise UnfitZip and store nothing."""
    if opened.manifest.kind != form.ACCOUNT:
        return [restore(opened, keeper=keeper, arrival=arrival)]
    result = []
    for name in inner_names(opened):
        with inner_zip(opened, name) as inner:
            result.append(restore(inner, keeper=keeper, arrival=arrival))
    return result


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
