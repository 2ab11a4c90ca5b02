"""The end of an account: what apps above do about what its keeper has, then it is deleted."""

from django.db import transaction

from apps.accounts.models import User
from apps.common.registry import Registry

# What apps above do while the account is still there: provider(user). What is others' goes to them.
ACCOUNT_ENDS: Registry[None] = Registry()


@transaction.atomic
def delete_account(user: User) -> None:
    """Delete an account with all in it, at once; what is others' or a club's goes to them first."""
    ACCOUNT_ENDS.collect(user)
    user.delete()
