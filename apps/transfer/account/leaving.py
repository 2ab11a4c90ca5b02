"""Deleting an account with all in it: asked for, waited for, then done by `purge_deleted`."""

import datetime as dt
import logging
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.core.mail import send_mail
from django.db import transaction
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.utils import timezone

from apps.accounts.ending import delete_account, end_sessions
from apps.accounts.models import User
from apps.clubs.leaving import leave_all
from apps.clubs.models import Club
from apps.common.moments import day_text
from apps.corals.models import HealthNote
from apps.lighting.models import Fixture
from apps.planning.models import Plan
from apps.surveys.models import Meter, Survey
from apps.tanks.models import Tank
from apps.transfer.archive.arrivals import drop_files, purge_arrivals
from apps.transfer.models import Arrival

logger = logging.getLogger(__name__)

# So long a keeper may think again.
WAIT = dt.timedelta(days=7)


@dataclass(frozen=True)
class Leaving:
    """What goes with an account, and what of it stays with others."""

    tanks: list[Tank]
    # Tanks that others help with or look at: they lose them.
    shared_tanks: list[Tank]
    meters: int
    fixtures: int
    plans: int
    # Tanks of others: what the keeper did there stays, without a name.
    helped: list[Tank]
    notes_left: int
    plans_left: int
    # Surveys of others taken with this keeper's meters: readings and factors stay.
    surveys_left: int
    # Clubs that would be without an officer.
    clubs: list[Club]


def leaving_of(user: User) -> Leaving:
    """Return what goes with a keeper's account and what stays."""
    own = Tank._base_manager.filter(owner=user)
    helped = Tank.objects.present().filter(memberships__user=user)
    notes = HealthNote.objects.filter(created_by=user).exclude(coral__tank__owner=user)
    own_meters = Survey.objects.filter(meter__owner=user, meter__club=None)
    surveys = own_meters.exclude(tank__owner=user)
    return Leaving(
        tanks=list(own.order_by("name")),
        shared_tanks=list(own.filter(memberships__isnull=False).distinct().order_by("name")),
        meters=Meter.objects.filter(owner=user, club=None).count(),
        fixtures=Fixture.objects.filter(owner=user).count(),
        plans=_plans_elsewhere(user, gone=True).count(),
        helped=list(helped.order_by("name")),
        notes_left=notes.count(),
        plans_left=_plans_elsewhere(user, gone=False).count(),
        surveys_left=surveys.count(),
        clubs=clubs_left_alone(user),
    )


def _plans_elsewhere(user: User, *, gone: bool) -> QuerySet:
    """Return a keeper's plans that go along, or those on others' tanks, which stay there."""
    plans = Plan.objects.filter(owner=user)
    elsewhere = plans.filter(tank__isnull=False).exclude(tank__owner=user)
    return plans.exclude(pk__in=elsewhere.values("pk")) if gone else elsewhere


def clubs_left_alone(user: User) -> list[Club]:
    """Return clubs with other members whose only officer is this keeper."""
    led = Club.objects.led_by(user)
    return [
        club
        for club in led
        if club.memberships.exclude(user=user).exists()
        and not club.memberships.exclude(user=user).filter(role="officer").exists()
    ]


def begin_leaving(user: User) -> None:
    """Set the day of deletion, end all sign-ins, and send a mail that says so.

    Each is written by itself: nobody else's save waits while sign-ins are looked for.
    """
    user.leaves_at = timezone.now() + WAIT
    user.save(update_fields=["leaves_at"])
    # Only a new sign-in keeps the account.
    end_sessions([user])
    _send_word(user)


def keep_account(user: User) -> bool:
    """Call the deletion off; tells whether there was one."""
    if user.leaves_at is None:
        return False
    user.leaves_at = None
    user.save(update_fields=["leaves_at"])
    return True


def _send_word(user: User) -> None:
    day = day_text(user.leaves_at.astimezone(ZoneInfo(user.time_zone)))
    text = render_to_string("transfer/account/leaving_mail.txt", {"day": day})
    try:
        send_mail(f"Your reeflog account will be deleted on {day}", text, None, [user.email])
    except OSError:
        # The page has said it; without the mail the wait is the same.
        logger.exception("A mail about a leaving account could not be sent")


def purge_accounts(now: dt.datetime) -> int:
    """Delete accounts whose wait is over, with all in them; return how many."""
    count = 0
    for pk in list(User.objects.filter(leaves_at__lte=now).values_list("pk", flat=True)):
        with transaction.atomic():
            # Asked anew: the keeper may have signed in meanwhile.
            user = User.objects.select_for_update().filter(pk=pk, leaves_at__lte=now).first()
            if user is not None:
                delete_account(user)
                count += 1
    return count


def hand_on(user: User) -> tuple[()]:
    """Give others what is theirs of a keeper whose account is about to be deleted."""
    # What was planned on another's tank is that tank's: it goes to its owner.
    for plan in _plans_elsewhere(user, gone=False).select_related("tank"):
        Plan.objects.filter(pk=plan.pk).update(owner=plan.tank.owner_id)
    leave_all(user)
    # Photos take theirs along once all is committed (`corals/photo_files.py`).
    drop_files(Arrival.objects.filter(keeper=user).exclude(file=""))
    return ()


def purge_words(now: dt.datetime) -> Iterator[str]:
    """Do what `purge_deleted` leaves to this app, and yield a line on it where there was any."""
    if count := purge_accounts(now):
        yield f"Accounts deleted with all in them: {count}."
    if count := purge_arrivals(now):
        yield f"Zips deleted that waited for a word: {count}."
