"""What the tanks of one club say together: those whose owners agreed to that club, too.

A club's sums beside all tanks', or beside another club's, could be taken from each other. So a
club's curve is kept back where too few keepers make up the difference.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from django.db import transaction
from django.db.models import QuerySet

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.outcomes.models import ClubPoolShare, PooledCurve, PoolShare
from apps.outcomes.pool.pooling import (
    KEEPERS_MIN,
    Entries,
    Question,
    Share,
    entries_by_question,
    pooled_curve,
    spread_out,
    sums_by,
)
from apps.photics.causes.response_curves import EDGES
from apps.tanks.models import Tank


def tanks_to_offer(user: User) -> QuerySet[Tank]:
    """Return a keeper's own tanks that count among all others, and so may in a club."""
    return Tank.objects.owned_by(user).filter(pool_share__isnull=False)


def tanks_counting(*, club: Club, user: User) -> list[int]:
    """Return the keys of a keeper's own tanks that count in a club."""
    mine = ClubPoolShare.objects.in_club(club).filter(share__tank__owner=user)
    return list(mine.values_list("share__tank", flat=True))


@transaction.atomic
def agree(*, club: Club, user: User, tanks: Iterable[Tank]) -> None:
    """Let these of a keeper's tanks count in a club, and no other of theirs."""
    ClubPoolShare.objects.filter(club=club, share__tank__owner=user).delete()
    shares = PoolShare.objects.filter(tank__in=[tank.pk for tank in tanks], tank__owner=user)
    ClubPoolShare.objects.bulk_create(ClubPoolShare(club=club, share=share) for share in shares)


def agreements_taken_along(user: User, club: Club) -> Iterable[QuerySet]:
    """Yield a keeper's agreements with a club: they end when the keeper leaves it."""
    mine = ClubPoolShare.objects.filter(club=club, share__tank__owner=user)
    yield mine.select_related("share__tank")


@dataclass(frozen=True)
class Shown:
    """A curve that may be shown, and the rows it is made of."""

    curve: PooledCurve
    rows: list[Share]

    @property
    def cells(self) -> set[int]:
        """Return which bins of EDGES its numbers stand in."""
        return {EDGES.index(low) for low, *_ in self.curve.bins}


@transaction.atomic
def recompute_clubs() -> int:
    """Write the PooledCurves of all clubs; return how many may be shown."""
    PooledCurve.objects.filter(club__isnull=False).delete()
    everyone = entries_by_question(PoolShare.objects.all())
    shown: dict[Question, list[Shown]] = defaultdict(list)
    for curve in PooledCurve.objects.filter(club=None):
        key = curve.question, curve.level, curve.name
        shown[key].append(Shown(curve, everyone.get(key, [])))
    curves = []
    for club in Club.objects.open_now().order_by("pk"):
        counting = ClubPoolShare.objects.in_club(club)
        shares = PoolShare.objects.filter(pk__in=counting.values("share"))
        curves += club_curves(club, entries_by_question(shares), shown)
    PooledCurve.objects.bulk_create(curves)
    return len(curves)


def club_curves(
    club: Club, entries: Entries, shown: dict[Question, list[Shown]]
) -> list[PooledCurve]:
    """Return the unsaved curves of a club that may be shown, and add them to `shown`."""
    curves = []
    for key, rows in entries.items():
        curve = pooled_curve(*key, rows)
        if curve is None:
            continue
        candidate = Shown(curve, rows)
        if any(tells_apart(candidate, other) for other in shown[key]):
            continue
        curve.club = club
        curves.append(curve)
        shown[key].append(candidate)
    return curves


def tells_apart(one: Shown, other: Shown) -> bool:
    """Tell whether the numbers of two curves, taken from each other, show too few keepers.

    A cell that one of them keeps back can't be had by subtraction.
    """
    sets = [{tank: (keeper, entry) for tank, keeper, entry in each.rows} for each in (one, other)]
    apart = sets[0].keys() ^ sets[1].keys()
    if not apart:
        return False
    beyond = [(sets[0] | sets[1])[tank] for tank in apart]
    keepers = np.unique([keeper for keeper, _ in beyond])
    if len(keepers) < KEEPERS_MIN:
        return True
    owner = np.searchsorted(keepers, [keeper for keeper, _ in beyond])
    visits = sums_by(owner, [entry["visits"] for _, entry in beyond])
    cells = (visits[:, k] for k in one.cells & other.cells)
    return not all(spread_out(cell) for cell in cells if cell.any())
