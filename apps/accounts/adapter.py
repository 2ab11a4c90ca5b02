"""Sign-in that a stranger can slow down but never close, and a sign-up a host may close.

Wrong passwords are counted by network and account together, so that whoever guesses shuts out
only themselves. Guesses at one account from many networks make it slower for devices that it does
not know. A device that signed in before carries a signed cookie and is counted by itself.
"""

import hashlib
import logging
import threading
import time
from collections.abc import Callable

from allauth.account.adapter import DefaultAccountAdapter
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.core.internal import ratelimit
from django.conf import settings
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from apps.accounts.inviting import is_invited, use_invitation
from apps.accounts.known_devices import known_device, remember_device
from apps.common.throttling import network_of

logger = logging.getLogger(__name__)

# What may go wrong before the next attempt is refused, and where.
LIMITS = {
    "network": "30/m/ip",
    "network_and_account": "5/300s/key",
    "device_and_account": "10/300s/key",
}
# Beyond this many failures at one account from anywhere, attempts of unknown devices wait.
ACCOUNT_LIMIT = {"account": "10/600s/key"}
DELAY_S = 2.0
# A waiting attempt holds a thread: no more of them at once in one worker, the others are asked to
# come back, so that a guesser can't take the threads of everybody.
WAITING_MAX = 2
_waiting = threading.BoundedSemaphore(WAITING_MAX)


class AccountAdapter(DefaultAccountAdapter):
    error_messages = DefaultAccountAdapter.error_messages | {
        "guessed_at": "Someone is trying many wrong passwords for this account. "
        "Wait a few seconds, then try again."
    }
    pause: Callable[[float], None] = staticmethod(time.sleep)

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return settings.SIGN_UP == "open" or is_invited(request)

    @transaction.atomic
    def save_user(self, request: HttpRequest, user, form, commit=True):
        user = super().save_user(request, user, form, commit=commit)
        if settings.SIGN_UP == "closed" and not use_invitation(request):
            # Two signed up by one link at once: the account that came later is taken back.
            raise ImmediateHttpResponse(redirect("account_signup"))
        return user

    def pre_authenticate(self, request: HttpRequest, **credentials) -> None:
        account = account_mark(credentials)
        device = known_device(request, account)
        place = f"{device}|{account}" if device else f"{network_of(request)}|{account}"
        kind = "device_and_account" if device else "network_and_account"
        self._used = []
        for limit, key in (("network", None), (kind, place)):
            if not self._take(request, {limit: LIMITS[limit]}, key):
                logger.warning(
                    "Sign-in locked out by %s: %s", limit, self._whence(request, account)
                )
                raise self.validation_error("too_many_login_attempts")
        if not device and not self._take(request, ACCOUNT_LIMIT, account):
            self._wait(request, account)

    def authentication_failed(self, request: HttpRequest, **credentials) -> None:
        logger.warning("Sign-in failed: %s", self._whence(request, account_mark(credentials)))

    def post_login(self, request: HttpRequest, user, **kwargs) -> HttpResponse:
        response = super().post_login(request, user, **kwargs)
        remember_device(request, response, account_mark({"email": user.email}))
        return response

    def _rollback_login_failed_rl_usage(self) -> None:
        # allauth calls this once the password was right: only failures are to count.
        for usage in self._used:
            usage.rollback()

    def _take(self, request, config, key):
        (action,) = config
        usage = ratelimit.consume(
            request, app="reeflog.sign_in", action=action, config=config, key=key
        )
        if usage:
            self._used.append(usage)
        return usage

    def _wait(self, request, account):
        if not _waiting.acquire(blocking=False):
            raise self.validation_error("guessed_at")
        try:
            logger.warning("Sign-in slowed down: %s", self._whence(request, account))
            self.pause(DELAY_S)
        finally:
            _waiting.release()

    @staticmethod
    def _whence(request, account):
        """Return what a log may hold: no password, no e-mail, no full address."""
        return f"account {account[:8]} from {shortened(network_of(request))}"


def account_mark(credentials: dict) -> str:
    """Return what stands for the account of a sign-in, the same for every spelling of it."""
    login = credentials.get("email") or credentials.get("username") or ""
    return hashlib.sha256(f"account {login.strip().lower()}".encode()).hexdigest()


def shortened(network: str) -> str:
    """Return a network without what tells one household in it apart."""
    if ":" in network:
        return ":".join(network.split(":")[:3]) + "::"
    return ".".join(network.split(".")[:3]) + ".x" if "." in network else network
