"""A club's meter: who has it and who is next, and its history of checks."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.clubs.access import is_officer, officers_club, readable_club
from apps.common.idempotency import once
from apps.common.moments import day_text
from apps.photics.ground.normal import NORMAL_90
from apps.surveys.lending.forms import HandOverForm, UntilForm
from apps.surveys.lending.lending import (
    ask,
    bring_back,
    hand_over,
    keep_until,
    lending_list,
    may_hand,
    withdraw,
)
from apps.surveys.meters.scales import scale_by_check
from apps.surveys.meters.views import meter_form_page
from apps.surveys.models import Meter, MeterCheck


@login_required
@require_http_methods(["GET", "POST"])
@once()
def club_meter_new(request: HttpRequest, club_pk: int) -> HttpResponse:
    club = officers_club(request.user, club_pk)
    meter = Meter(owner=request.user, club=club, follows_checks=True)
    return meter_form_page(request, meter)


def readable_meter(request: HttpRequest, club_pk: int, meter_pk: int) -> Meter:
    """Return a meter of a club the user is in, or raise Http404."""
    club = readable_club(request.user, club_pk)
    meters = Meter.objects.present().filter(club=club).select_related("club")
    return get_object_or_404(meters, pk=meter_pk)


def handed_meter(request: HttpRequest, club_pk: int, meter_pk: int) -> Meter:
    """Return the same for who has it, who is next, or an officer; PermissionDenied for others."""
    meter = readable_meter(request, club_pk, meter_pk)
    leads = is_officer(request.user, meter.club)
    if not may_hand(user=request.user, lent=lending_list(meter), leads=leads):
        raise PermissionDenied
    return meter


@login_required
@require_GET
def club_meter(request: HttpRequest, club_pk: int, meter_pk: int) -> HttpResponse:
    meter = readable_meter(request, club_pk, meter_pk)
    lent, today = lending_list(meter), timezone.localdate()
    leads = is_officer(request.user, meter.club)
    until = lent.held.until if lent.held else None
    context = {
        "meter": meter,
        "club": meter.club,
        "leads": leads,
        "lent": lent,
        "own_turn": lent.turn_of(request.user),
        "is_late": lent.held is not None and lent.held.is_late(today),
        "may_hand": may_hand(user=request.user, lent=lent, leads=leads),
        "until_form": UntilForm(initial={"until": until}, today=today),
        "hand_form": HandOverForm(meter=meter),
        "checks": [dated(check) for check in reversed(meter.dated_checks)],
        "factor_now": meter.factor_on(today),
        "caution": meter.check_caution(today),
    }
    return render(request, "surveys/lending/club_meter.html", context)


def dated(check: MeterCheck) -> tuple[MeterCheck, float]:
    """Return a check with how far its factor may be off, half of the 90 % interval [%]."""
    return check, 100.0 * NORMAL_90 * scale_by_check(check)[1]


@login_required
@require_POST
def club_meter_ask(request: HttpRequest, club_pk: int, meter_pk: int) -> HttpResponse:
    """Put the reader on the list, or take them off it."""
    meter = readable_meter(request, club_pk, meter_pk)
    if "withdraw" in request.POST:
        withdraw(meter=meter, user=request.user)
        messages.success(request, f"You are off the list for {meter.label}.")
    else:
        ask(meter=meter, user=request.user)
        messages.success(request, f"You are on the list for {meter.label}.")
    return redirect("club_meter", club_pk, meter_pk)


@login_required
@require_POST
def club_meter_hand_over(request: HttpRequest, club_pk: int, meter_pk: int) -> HttpResponse:
    """Note that a member has the meter from today on."""
    meter = handed_meter(request, club_pk, meter_pk)
    form = HandOverForm(request.POST, meter=meter)
    if not form.is_valid():
        messages.error(request, "Not handed over: choose a member of the club.")
    else:
        turn = hand_over(meter=meter, to=form.cleaned_data["to"], day=timezone.localdate())
        until = day_text(turn.until or timezone.localdate())
        messages.success(request, f"{turn.keeper} has {meter.label} until {until}.")
    return redirect("club_meter", club_pk, meter_pk)


@login_required
@require_POST
def club_meter_back(request: HttpRequest, club_pk: int, meter_pk: int) -> HttpResponse:
    """Note that the meter is with the club again."""
    meter = handed_meter(request, club_pk, meter_pk)
    bring_back(meter=meter, day=timezone.localdate())
    messages.success(request, f"{meter.label} is back with the club.")
    return redirect("club_meter", club_pk, meter_pk)


@login_required
@require_POST
def club_meter_until(request: HttpRequest, club_pk: int, meter_pk: int) -> HttpResponse:
    """Let the turn under way end sooner or later."""
    meter = handed_meter(request, club_pk, meter_pk)
    form = UntilForm(request.POST, today=timezone.localdate())
    if form.is_valid():
        until: dt.date = form.cleaned_data["until"]
        keep_until(meter=meter, until=until)
        messages.success(request, f"{meter.label} is lent until {day_text(until)}.")
    else:
        messages.error(request, "Not changed: choose a day from today to a year from now.")
    return redirect("club_meter", club_pk, meter_pk)
