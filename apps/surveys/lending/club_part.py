"""The meters of a club, as its page lists them."""

from django.urls import reverse
from django.utils import timezone

from apps.accounts.models import User
from apps.clubs.access import is_officer
from apps.clubs.models import Club
from apps.clubs.parts import ClubLine, ClubPart
from apps.common.moments import day_text
from apps.surveys.lending.lending import LendingList, lending_list
from apps.surveys.models import Meter


def meters_part(user: User, club: Club) -> list[ClubPart]:
    """Return the part of a club's page that lists its meters and who has each."""
    today = timezone.localdate()
    lines = []
    for meter in Meter.objects.present().filter(club=club):
        lent = lending_list(meter)
        is_due = lent.held is not None and lent.held.is_late(today)
        url = reverse("club_meter", args=[club.pk, meter.pk])
        lines.append(ClubLine(meter.label, url, lent_words(lent), is_due))
    new = ("New meter", reverse("club_meter_new", args=[club.pk]))
    actions = (new,) if is_officer(user, club) else ()
    return [ClubPart("meters", "Meters", tuple(lines), "The club has no meter yet.", actions)]


def lent_words(lent: LendingList) -> str:
    """Say who has a meter and who is next."""
    held = lent.held
    who = "with the club" if held is None else f"with {held.keeper}"
    if held is not None and held.until is not None:
        who += f" until {day_text(held.until)}"
    return f"{who}, then {lent.next.keeper}" if lent.next else who
