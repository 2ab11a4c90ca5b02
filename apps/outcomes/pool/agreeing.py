"""An owner's word that a tank counts among all others, and taking it back."""

from apps.accounts.models import User
from apps.outcomes.models import PoolShare
from apps.tanks.models import Tank


def count_among_others(*, tank: Tank, by: User) -> PoolShare:
    """Let a tank count from the next night on; one that counts already keeps its first word."""
    share, _ = PoolShare.objects.get_or_create(tank=tank, defaults={"agreed_by": by})
    return share


def count_no_more(*, tank: Tank) -> None:
    """Take a tank out of the sums, and of those of clubs: nothing of it is left there."""
    PoolShare.objects.filter(tank=tank).delete()
