"""Leaving a club, being removed or blocked, another officer's taking over, and its closing."""

from collections.abc import Iterator
from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone

from apps.accounts.models import User
from apps.clubs.holding import hold_club
from apps.clubs.models import Block, Club, Membership
from apps.common.registry import Registry

# What of a keeper's goes with them: provider(user, club) yields QuerySets, deleted when they leave.
# Read only, they say what would go.
TAKEN_ALONG: Registry[QuerySet[Any]] = Registry()


# What is a club's, in an officer's name: provider(club) yields QuerySets of rows with an `owner`
# and a `club`. It goes to another officer, or to the one who closes the club.
CLUBS_OWN: Registry[QuerySet[Any]] = Registry()


class OfficerMissing(PermissionDenied):
    """The last officer would go and leave members behind."""


def others_in(club: Club, user: User) -> QuerySet:
    """Return the memberships of everyone else, those who belong longest first."""
    return club.memberships.exclude(user=user).select_related("user")


def is_last_officer(user: User, club: Club) -> bool:
    """Tell whether a club would be without an officer if this keeper were none."""
    officers = club.memberships.officers()
    return officers.filter(user=user).exists() and not officers.exclude(user=user).exists()


@transaction.atomic
def leave(*, club: Club, user: User, successor: Membership | None = None) -> None:
    """Take a keeper out of a club, and out of it all that was theirs.

    Their successor becomes an officer first. Raises OfficerMissing for a last officer without one.
    """
    _hold(club.pk)
    if successor is not None:
        club.memberships.filter(pk=successor.pk).update(role=Membership.Role.OFFICER)
    if is_last_officer(user, club):
        raise OfficerMissing
    heir = club.memberships.officers().exclude(user=user).first()
    if heir is not None:
        for rows in CLUBS_OWN.collect(club):
            rows.filter(owner=user).update(owner=heir.user_id)
    _take_out(club, user)


@transaction.atomic
def close(*, club: Club, by: User | None) -> None:
    """Close a club for good: each member is out of it, and nothing of theirs stays to be seen.

    What was the club's becomes that of the officer who closes it. Where the site's host does, who
    is none of them (`by` None), it stays with the officers in whose name it is.
    """
    _hold(club.pk)
    # First, as long as what is the club's can be told by it: turns with its meters go, too.
    for user in User.objects.filter(club_memberships__club=club):
        _take_out(club, user)
    heir = {} if by is None else {"owner": by}
    for rows in CLUBS_OWN.collect(club):
        rows.update(club=None, **heir)
    club.closed_at = timezone.now()
    club.save(update_fields=["closed_at"])


@transaction.atomic
def block(*, club: Club, user: User) -> None:
    """Take a keeper out of a club and let no link let them in again."""
    # Before who leaves is looked for: one who comes in at this moment is put out, too.
    _hold(club.pk)
    leave(club=club, user=user)
    Block.objects.get_or_create(club=club, user=user)


@transaction.atomic
def set_role(*, membership: Membership, role: str) -> None:
    """Give a member a role; ValidationError where the club would lose its last officer."""
    _hold(membership.club_id)
    if role != Membership.Role.OFFICER and is_last_officer(membership.user, membership.club):
        raise ValidationError({"role": "A club needs an officer. Make another member one first."})
    membership.role = role
    membership.save(update_fields=["role"])


def _hold(club_pk: int) -> None:
    if hold_club(club_pk) is None:
        raise Http404


def _take_out(club: Club, user: User) -> None:
    for rows in TAKEN_ALONG.collect(user, club):
        rows.delete()
    club.memberships.filter(user=user).delete()


@transaction.atomic
def leave_all(user: User) -> None:
    """Take a keeper whose account ends out of all their clubs; those of nobody else close."""
    for club in Club.objects.visible_to(user):
        if is_last_officer(user, club):
            close(club=club, by=user)
        else:
            leave(club=club, user=user)


def going_along(user: User, club: Club) -> Iterator[str]:
    """Yield the name of everything that would go with a keeper who leaves."""
    for rows in TAKEN_ALONG.collect(user, club):
        yield from map(str, rows)
