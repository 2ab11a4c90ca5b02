"""What happens to accounts, in the log: which account by its number, never whose."""

import logging
from typing import Any

from allauth.account import signals as account
from allauth.mfa import signals as mfa

logger = logging.getLogger("reeflog.security")

EVENTS = {
    "signed in": account.user_logged_in,
    "signed out": account.user_logged_out,
    "signed up": account.user_signed_up,
    "password set": account.password_set,
    "password changed": account.password_changed,
    "password reset": account.password_reset,
    "e-mail changed": account.email_changed,
    "e-mail confirmed": account.email_confirmed,
    "second step added": mfa.authenticator_added,
    "second step removed": mfa.authenticator_removed,
    "recovery codes renewed": mfa.authenticator_reset,
}


def log_event(event: str, user: Any) -> None:
    """Write down what happened to an account."""
    logger.info("Account: %s", event, extra={"event": event, "account": getattr(user, "pk", None)})


class Listener:
    """Writes down one kind of event."""

    def __init__(self, event: str) -> None:
        self.event = event

    def __call__(self, *, user: Any = None, email_address: Any = None, **_signal: object) -> None:
        log_event(self.event, user or getattr(email_address, "user", None))


def listen() -> None:
    """Connect the log to all that is told of accounts."""
    for event, signal in EVENTS.items():
        # Held by the signal alone, so not by a weak reference.
        signal.connect(Listener(event), weak=False, dispatch_uid=f"security event: {event}")
