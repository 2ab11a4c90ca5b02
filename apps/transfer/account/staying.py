"""Signing in calls the deletion of an account off."""

from django.contrib import messages
from django.http import HttpRequest

from apps.accounts.models import User
from apps.transfer.account.leaving import keep_account


def keep_when_signed_in(*, request: HttpRequest, user: User, **_signal: object) -> None:
    if keep_account(user):
        words = "Your account stays: signing in called its deletion off."
        messages.success(request, words, fail_silently=True)
