"""Making a club, and coming in to one by a link."""

from django.db import transaction

from apps.accounts.models import User
from apps.clubs.holding import hold_club
from apps.clubs.models import Block, Club, ClubLink, Membership


@transaction.atomic
def make_club(*, club: Club, by: User) -> Club:
    """Save a new, valid club with its first officer."""
    club.save()
    Membership.objects.create(club=club, user=by, role=Membership.Role.OFFICER)
    return club


@transaction.atomic
def join(*, link: ClubLink, user: User) -> Club | None:
    """Let a user in by a link; None where it was closed in the meantime, or they are blocked.

    Who is in already keeps their role.
    """
    # The club, so that nobody slips in beside a block or a closing; the link, so that a revoked
    # one lets nobody in.
    hold_club(link.club_id)
    ClubLink.objects.select_for_update(no_key=True).filter(pk=link.pk).first()
    still_open = ClubLink.objects.open_now().filter(pk=link.pk).first()
    if still_open is None or is_blocked(user, still_open.club):
        return None
    Membership.objects.get_or_create(club=still_open.club, user=user)
    return still_open.club


def is_blocked(user: User, club: Club) -> bool:
    return Block.objects.filter(club=club, user_id=user.pk).exists()
