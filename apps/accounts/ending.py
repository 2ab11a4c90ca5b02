"""The end of an account, with what apps above do about what its keeper has; and of its sign-ins."""

from collections.abc import Collection

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.db import transaction
from django.utils import timezone
from knox.models import AuthToken

from apps.accounts.models import User
from apps.accounts.security_events import log_event
from apps.common.registry import Registry

# What apps above do while the account is still there: provider(user). What is others' goes to them.
ACCOUNT_ENDS: Registry[None] = Registry()


@transaction.atomic
def delete_account(user: User) -> None:
    """Delete an account with all in it, at once; what is others' or a club's goes to them first."""
    ACCOUNT_ENDS.collect(user)
    user.delete()


def end_sessions(users: Collection[User]) -> None:
    """Sign keepers out everywhere.

    All sign-ins of the site are looked at: the list of a keeper's devices lacks those that are
    older than it, and those that another way than the sign-in page made.
    """
    keys = {str(user.pk) for user in users}
    live = Session.objects.filter(expire_date__gt=timezone.now()).iterator()
    own = [one.pk for one in live if one.get_decoded().get(SESSION_KEY) in keys]
    Session.objects.filter(pk__in=own).delete()


@transaction.atomic
def shut_out(users: Collection[User]) -> None:
    """End all that opens these accounts now, sessions and tokens; their password still does."""
    end_sessions(users)
    AuthToken.objects.filter(user__in=users).delete()
    for user in users:
        log_event("sessions and tokens ended by the host", user)
