"""Putting a request down and answering it, with a mail to whoever waits for it."""

import logging
import smtplib

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import User
from apps.common.serving.row_locks import hold_row
from apps.hosting.models import WAITING_MOST, DataRequest

logger = logging.getLogger("reeflog.requests_about_data")


class TooManyWait(Exception):
    """A keeper has as many unanswered requests as one may have."""


@transaction.atomic
def ask(*, keeper: User, kind: str, words: str, site: str) -> DataRequest:
    """Put a request down and tell the host; `site` is the address of the page of it.

    Raises TooManyWait and ValidationError.
    """
    # Two taps at once must not pass the bound together.
    hold_row(User.objects, keeper.pk)
    if keeper.data_requests.waiting().count() >= WAITING_MOST:
        raise TooManyWait
    row = DataRequest(keeper=keeper, kind=kind, words=words)
    row.full_clean()
    row.save()
    text = f"A keeper asks for {row.get_kind_display()}. Read and answer it here:\n{site}\n"
    transaction.on_commit(lambda: tell(hosts(), "A request about data", text))
    return row


@transaction.atomic
def answer(*, request: DataRequest, state: str, words: str, site: str) -> None:
    """Put a host's answer down and tell the keeper; `site` is the address of their requests."""
    request.state, request.answer, request.answered_at = state, words, timezone.now()
    request.save(update_fields=["state", "answer", "answered_at"])
    text = f"Your {request} is {request.get_state_display()}.\n\n{words}\n\nYour requests: {site}\n"
    keeper = [request.keeper.email]
    transaction.on_commit(lambda: tell(keeper, "Your request about data", text))


def hosts() -> list[str]:
    """Return whom a request is mailed to: the contact, else all who may do everything here."""
    if settings.CONTACT.startswith("mailto:"):
        return [settings.CONTACT.removeprefix("mailto:")]
    chiefs = User.objects.filter(is_superuser=True, is_active=True)
    return list(chiefs.order_by("pk").values_list("email", flat=True))


def tell(to: list[str], subject: str, text: str) -> None:
    """Send a mail; one that is refused is written down and loses nothing: the pages have it."""
    if not to:
        return
    try:
        send_mail(f"reeflog: {subject}", text, None, to)
    except (smtplib.SMTPException, OSError) as problem:
        logger.warning("The mail on a request was refused: %s", problem)
