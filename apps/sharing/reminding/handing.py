"""What a mail says of things that go from one keeper to another: a club's meter, a tank."""

import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo

from django.urls import reverse

from apps.accounts.models import User
from apps.clubs.models import Club
from apps.common.moments import day_text
from apps.sharing.reminding.lines import Line
from apps.surveys.lending.lending import lending_list
from apps.surveys.models import Meter, MeterLoan, SurveyOffer
from apps.tanks.models import Invitation

# So long before a turn ends both sides of it are told: chosen, for two people to find a day.
TURN_AHEAD = dt.timedelta(days=3)


def handing_lines(keeper: User, now: dt.datetime) -> Iterator[Line]:
    """Yield what comes to a keeper, or is to be handed on."""
    today = now.astimezone(ZoneInfo(keeper.time_zone)).date()
    clubs = Club.objects.visible_to(keeper)
    turns = MeterLoan.objects.filter(keeper=keeper, ended_on=None)
    meters = Meter.objects.present().filter(club__in=clubs, pk__in=turns.values("meter"))
    for meter in meters.order_by("pk"):
        yield from turn_lines(meter, keeper, today)
    for offer in Invitation.objects.for_keeper(keeper).filter(hands_over=True).order_by("pk"):
        text = f"{offer.tank.owner} offers you the tank {offer.tank}"
        at = reverse("tank_list")
        yield Line("tank", f"tank offer {offer.pk}", text, at, str(offer.tank))
    for given in SurveyOffer.objects.waiting_for(keeper):
        at = reverse("club_survey_take", args=[given.club_id, given.pk])
        text = f"{given.club}: {given.offered_by} hands a survey over to you"
        yield Line("survey", f"survey offer {given.pk}", text, at)


def turn_lines(meter: Meter, keeper: User, today: dt.date) -> Iterator[Line]:
    """Yield what a keeper who has a club's meter, or is the next, is told of their turn."""
    lent, at = lending_list(meter), reverse("club_meter", args=[meter.club_id, meter.pk])
    held = lent.held
    if held is not None and held.keeper_id == keeper.pk:
        mark = f"loan {held.pk} {held.since}"
        yield Line("loan", mark, f"{meter}: it is with you now{until_words(held)}", at)
        if is_ending(held, today):
            to = f"hand it to {lent.next.keeper}" if lent.next else "bring it back to the club"
            text = f"{meter}: your turn ends{until_words(held, ' on')}, {to}"
            yield Line("loan", f"loan {held.pk} ends {held.until}", text, at)
    elif lent.next is not None and lent.next.keeper_id == keeper.pk:
        if held is None:
            mark = f"loan {lent.next.pk} next"
            yield Line("loan", mark, f"{meter}: it is with the club, and you are next", at)
        elif is_ending(held, today):
            mark = f"loan {lent.next.pk} after {held.pk} {held.until}"
            who = f"{held.keeper} has it{until_words(held)}"
            yield Line("loan", mark, f"{meter}: you are next, {who}", at)


def is_ending(turn: MeterLoan, today: dt.date) -> bool:
    """Return whether a turn is over, or soon will be."""
    return turn.until is not None and turn.until <= today + TURN_AHEAD


def until_words(turn: MeterLoan, word: str = " until") -> str:
    """Return " until 4 May 2026" of a turn, "" where no day is set."""
    return "" if turn.until is None else f"{word} {day_text(turn.until)}"
