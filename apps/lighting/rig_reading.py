"""A long light log's rigs, read at once: most fixtures hang on unchanged from entry to entry."""

import json
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.db.models import TextField
from django.db.models.functions import Cast

from apps.common.reading_once import read_once
from apps.lighting.models import HungFixture
from apps.tanks.models import Tank

LISTS = ("channels", "channel_levels")
PLAIN = tuple(
    name for name in ("number", *HungFixture.FACTS, *HungFixture.SETTINGS) if name not in LISTS
)


def rigs_after(tank: Tank) -> dict[int, tuple[HungFixture, ...]]:
    """Return what hangs after each present change that tells it, {change's key: HungFixtures}.

    Only to be read: fixtures alike in number, facts and settings are one object, which knows
    neither its change nor what was stated there. A log of 2,000 entries over 40 fixtures holds
    40,000 rows; made one by one they take longer than the light itself.
    """
    return read_once(("rigs after", tank.pk), lambda: read_rigs(tank))


def read_rigs(tank: Tank) -> dict[int, tuple[HungFixture, ...]]:
    """Return `rigs_after` as the database has it now."""
    changes = tank.light_changes.present().filter(tells_rig=True)
    rows = HungFixture.objects.filter(change__in=changes).order_by("change_id", "number")
    texts = {f"{name}_text": Cast(name, TextField()) for name in LISTS}
    alike: dict[tuple[object, ...], HungFixture] = {}
    result: dict[int, list[HungFixture]] = defaultdict(list)
    selected = rows.annotate(**texts).values_list("change_id", *PLAIN, *texts)
    for change_pk, *values in selected.iterator(chunk_size=5000):
        key = tuple(values)
        if key not in alike:
            alike[key] = hung_of(key)
        result[change_pk].append(alike[key])
    return {pk: tuple(hung) for pk, hung in result.items()}


def hung_of(values: Sequence[Any]) -> HungFixture:
    """Return the HungFixture of a row's PLAIN fields and, as text, its LISTS."""
    plain, lists = values[: len(PLAIN)], values[len(PLAIN) :]
    fields = dict(zip(PLAIN, plain, strict=True))
    return HungFixture(
        **fields, **{name: json.loads(text) for name, text in zip(LISTS, lists, strict=True)}
    )
