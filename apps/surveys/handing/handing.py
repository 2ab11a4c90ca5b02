"""Handing a survey to a member of a club, who takes it into a tank they already keep."""

import uuid
from collections.abc import Iterable
from dataclasses import replace

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, QuerySet

from apps.accounts.models import User
from apps.clubs.models import Club, Membership
from apps.common.validation import allowed_gaps
from apps.surveys.models import Meter, Survey, SurveyOffer
from apps.surveys.recording import rows_of, save_readings
from apps.tanks.models import Tank

# What of a survey goes along. Whether a map starts afresh is for the tank's own keeper to say.
CARRIED = (
    "taken_at", "correction_factor", "spectral_factor", "level_percent", "light_note", "pumps",
    "lid", "hours_on", "channel", "levels", "notes",
)  # fmt: skip

OVER = "It was taken meanwhile, or is no longer offered."


def members_to_hand_to(user: User) -> QuerySet[Membership]:
    """Return the memberships of all others in the clubs a user looks after."""
    others = Membership.objects.filter(club__in=Club.objects.led_by(user)).exclude(user=user)
    return others.select_related("user", "club").order_by("club__name", "joined_at", "pk")


def offer_survey(*, survey: Survey, to: Membership, by: User) -> SurveyOffer:
    """Let a member take a survey; offered to them before, it is the same offer."""
    offer, _ = SurveyOffer.objects.update_or_create(
        survey=survey, to=to.user, defaults={"club": to.club, "offered_by": by}
    )
    return offer


@transaction.atomic
def take_survey(*, offer: SurveyOffer, tank: Tank, by: User) -> Survey:
    """Copy an offered survey into a tank and end the offer; return the copy.

    Raises ValidationError where its readings do not fit the tank, or the offer is over; nothing is
    written then. The meter goes along where the taker may use it; the factor it gave does in any
    case.
    """
    # Two that take it at once: the second finds it taken.
    if not SurveyOffer.objects.select_for_update(no_key=True).filter(pk=offer.pk):
        raise ValidationError(OVER)
    given = offer.survey
    survey = Survey(tank=tank, created_by=by, **{name: getattr(given, name) for name in CARRIED})
    if given.meter_id and Meter.objects.usable_by(by).filter(pk=given.meter_id).exists():
        survey.meter = given.meter
    elif given.is_in_lux:
        raise ValidationError("Its readings are the lux of a meter that is not yours to use.")
    survey.full_clean(exclude=allowed_gaps(survey, shown=()))
    survey.save()
    rows = [replace(row, client_id=uuid.uuid4()) for row in rows_of(given)]
    try:
        save_readings(survey=survey, rows=rows, expected_version=0, by=by)
    except ValidationError as problem:
        first = problem.messages[0]
        raise ValidationError(f"It does not fit this tank. {first}") from problem
    offer.delete()
    return survey


def offers_taken_along(user: User, club: Club) -> Iterable[QuerySet]:
    """Yield the offers of a club that a keeper made or was made: they end when they leave it."""
    offers = SurveyOffer.objects.filter(Q(to=user) | Q(offered_by=user), club=club)
    yield offers.select_related("survey__tank", "to")
