"""Tanks whose owners agreed, taken together, so that no one keeper shows."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import TypeVar

import numpy as np
from django.db import transaction
from django.db.models import QuerySet

from apps.outcomes.models import PooledCurve, PoolShare
from apps.outcomes.pool.part import DIGITS, Entry, tank_digests, tank_part
from apps.photics.causes.response_curves import EDGES
from apps.photics.causes.week_contrast import EFFECTS, pooled_effect
from apps.photics.ground.arrays import FloatArray, IntArray

# No curve from fewer tanks or keepers; no cell in which fewer keepers have visits, or in which one
# of them has more than this share. House rules.
TANKS_MIN, KEEPERS_MIN, EVENTS_MIN = 5, 5, 10
SHARE_MAX = 0.5
BATCH = 200  # tanks read together


Share = tuple[int, int, Entry]  # tank key, keeper key, what the tank adds
Question = tuple[str, str, str]  # question, level and name
Entries = dict[Question, list[Share]]
Row = TypeVar("Row")


def refresh_parts(shares: QuerySet) -> int:
    """Work out anew the parts of PoolShares whose tanks changed; return how many did."""
    changed = 0
    for batch in batched(shares.select_related("tank").iterator(chunk_size=BATCH), BATCH):
        digests = tank_digests([share.tank for share in batch])
        stale = [share for share in batch if share.digest != digests[share.tank_id]]
        for share in stale:
            share.part, share.digest = tank_part(share.tank), digests[share.tank_id]
        PoolShare.objects.bulk_update(stale, ["part", "digest"], batch_size=BATCH)
        changed += len(stale)
    return changed


def batched(rows: Iterable[Row], size: int) -> Iterator[list[Row]]:
    """Yield lists of up to `size` rows."""
    rows = iter(rows)
    while batch := list(islice(rows, size)):
        yield batch


@transaction.atomic  # type: ignore[untyped-decorator]  # Django brings no types
def recompute_pool() -> int:
    """Write the PooledCurves of all PoolShares' parts; return how many may be shown."""
    entries = entries_by_question(PoolShare.objects.all())
    curves = [curve for key, rows in entries.items() if (curve := pooled_curve(*key, rows))]
    PooledCurve.objects.filter(club=None).delete()
    PooledCurve.objects.bulk_create(curves)
    return len(curves)


def entries_by_question(shares: QuerySet) -> Entries:
    """Return what PoolShares add, by question, level and name."""
    entries = defaultdict(list)
    rows = shares.values_list("tank_id", "tank__owner_id", "part")
    for tank_pk, keeper_pk, part in rows.iterator(chunk_size=500):
        for entry in part:
            key = entry["question"], entry["level"], entry["name"]
            entries[key].append((tank_pk, keeper_pk, entry))
    return entries


def pooled_curve(question: str, level: str, name: str, rows: Sequence[Share]) -> PooledCurve | None:
    """Return the unsaved PooledCurve of (tank, keeper, entry) rows, None where it may not show.

    Counts are those of the cells shown, so that a hidden cell cannot be had by subtraction.
    """
    tanks, keepers = (np.unique([row[k] for row in rows]) for k in (0, 1))
    owner = np.searchsorted(keepers, [row[1] for row in rows])
    visits, events, doses = (
        sums_by(owner, [e[kind] for *_, e in rows]) for kind in ("visits", "events", "doses")
    )
    if len(tanks) < TANKS_MIN or not spread_out(events.sum(1)) or events.sum() < EVENTS_MIN:
        return None
    shown = [k for k in range(visits.shape[1]) if spread_out(visits[:, k])]
    informative = [e["log_likelihood"] for *_, e in rows if e["log_likelihood"]]
    effect = pooled_effect(np.sum(informative, axis=0)) if informative else None
    return PooledCurve(
        question=question,
        level=level,
        name=name,
        n_tanks=len(tanks),
        n_keepers=len(keepers),
        ratio=effect and within_grid(effect.ratio),
        low=effect and within_grid(effect.low),
        high=effect and within_grid(effect.high),
        bins=[
            [
                *(EDGES[k], finite(EDGES[k + 1])),
                *(int(events[:, k].sum()), int(visits[:, k].sum())),
                round(float(doses[:, k].sum() / visits[:, k].sum()), DIGITS),
            ]
            for k in shown
        ],
    )


def sums_by(owner: IntArray, rows: Sequence[Sequence[float]]) -> FloatArray:
    """Return rows (n, bins) summed over each keeper, (keepers, bins)."""
    sums = np.zeros((owner.max() + 1, len(rows[0])))
    np.add.at(sums, owner, np.array(rows, float))
    return sums


def spread_out(counts: FloatArray) -> bool:
    """Tell whether a cell's counts (keepers,) come from enough keepers, none of them most of it."""
    present = counts[counts > 0]
    return len(present) >= KEEPERS_MIN and present.max() <= SHARE_MAX * present.sum()


def finite(edge: float) -> float | None:
    """Return an edge as JSON can hold it: None where there is no end."""
    return None if np.isinf(edge) else edge


def within_grid(ratio: float) -> float:
    """Return a ratio as a column can hold it: ends beyond the grid at its edge."""
    return float(np.clip(ratio, np.exp(EFFECTS[0]), np.exp(EFFECTS[-1])))
