"""A club's people change one at a time."""

from apps.clubs.models import Club


def hold_club(club_pk: int) -> Club | None:
    """Let one change of a club's people at a time through, until the transaction ends.

    So an officer is left over, and nobody comes in beside a block or a closing. Returns the club,
    or None where it is gone.
    """
    return Club.objects.select_for_update(no_key=True).filter(pk=club_pk).first()
