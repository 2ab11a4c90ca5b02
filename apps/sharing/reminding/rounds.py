"""All keepers told what is newly due: by a command that a timer runs, or as a job on workers."""

import datetime as dt
import logging
import smtplib
from dataclasses import asdict, dataclass

from django.utils import timezone

from apps.accounts.models import User
from apps.later.kinds import JobKind
from apps.later.queue import put_down_once, under_way
from apps.later.running import Refused, Work
from apps.sharing.reminding.digest import send_digest

logger = logging.getLogger(__name__)

REMIND = "send_reminders"


@dataclass
class Round:
    """How many keepers were told, whose address is refused, and who could not be told."""

    reminded: int = 0
    refused: int = 0
    broken: int = 0

    @property
    def trouble(self) -> str:
        """One sentence for the host where some could not be reminded, or nothing."""
        if not self.broken:
            return ""
        return f"Keepers who could not be reminded: {self.broken}. The log says why."


def remind_all(site: str) -> Round:
    """Tell every keeper what is newly due; run again, nothing is said twice."""
    done = Round()
    keepers = User.objects.filter(is_active=True, reminder_mail__isnull=False)
    for keeper in keepers.exclude(reminder_mail__kinds=[]).order_by("pk"):
        try:
            done.reminded += send_digest(keeper, site=site, now=timezone.now()) > 0
        except smtplib.SMTPRecipientsRefused:
            # That address stays wrong every hour: nothing for a host to be woken by.
            done.refused += 1
            logger.warning("Keeper %s: the mail server refuses their address", keeper.pk)
        except Exception:
            # What one keeper's tanks bring up keeps nobody else from their mail.
            done.broken += 1
            logger.exception("Keeper %s could not be reminded", keeper.pk)
    return done


def remind_soon(site: str) -> None:
    """Let a worker do it, unless a round is under way: a second would fit all lights again."""
    if under_way(REMIND, keeper=None) is None:
        put_down_once(REMIND, subject="all keepers", arguments={"site": site}, delay=dt.timedelta())


def remind_behind(work: Work, *, site: str) -> None:
    """Do a round as a job; raise Refused where some keepers could not be reminded."""
    done = remind_all(site)
    if done.trouble:
        raise Refused(done.trouble)
    work.settle(asdict(done))


REMIND_KIND = JobKind("Sending reminders", remind_behind)
