"""Who may see or lead a club. Strangers get 404, members who may not lead get 403."""

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404

from apps.accounts.models import User
from apps.clubs.models import Club


def readable_club(user: User, pk: int) -> Club:
    """Return a club the user belongs to, or raise Http404."""
    return get_object_or_404(Club.objects.visible_to(user), pk=pk)


def is_officer(user: User, club: Club) -> bool:
    """Tell whether a user looks after a club."""
    return Club.objects.led_by(user).filter(pk=club.pk).exists()


def officers_club(user: User, pk: int) -> Club:
    """Return a club the user looks after; PermissionDenied for its other members."""
    club = readable_club(user, pk)
    if not is_officer(user, club):
        raise PermissionDenied
    return club
