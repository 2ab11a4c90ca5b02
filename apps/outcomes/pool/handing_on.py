"""An owner's agreement to count among other tanks ends with their ownership."""

from collections.abc import Iterator

from apps.accounts.models import User
from apps.outcomes.models import PoolShare
from apps.tanks.models import Tank


def end_agreement(tank: Tank, to: User) -> Iterator[str]:
    """Take a tank out of the sums; yield a word where it was in them."""
    count, _ = PoolShare.objects.filter(tank=tank).delete()
    if count:
        yield "counts no more among other tanks"
