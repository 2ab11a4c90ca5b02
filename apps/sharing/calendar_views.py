"""A tank's acclimation steps and reminders as a calendar, subscribed to by a secret address."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from apps.common.links.shown_once import render_once
from apps.common.reading_once import reading_once
from apps.common.throttling import CALENDAR, mark_wrong, paced
from apps.planning.acclimation.steps_calendar import steps_calendar
from apps.sharing.models import CalendarLink
from apps.sharing.opening import PRIVACY_HEADERS
from apps.tanks.access import readable_tank
from apps.tanks.reminding import reminders_of

PAGE = "sharing/calendar_link.html"


@login_required
def calendar_link(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    link = tank.calendar_links.filter(keeper=request.user).first()
    return render(request, PAGE, {"tank": tank, "link": link})


@login_required
@require_POST
def calendar_link_new(request, tank_pk):
    """Make the keeper's address of this tank and show it: in this one answer and never again."""
    tank = readable_tank(request.user, tank_pk)
    link, token = CalendarLink.objects.renew(tank=tank, keeper=request.user)
    address = request.build_absolute_uri(reverse("open_calendar", args=[token]))
    return render_once(request, PAGE, {"tank": tank, "link": link, "address": address})


@login_required
@require_POST
def calendar_link_close(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    tank.calendar_links.filter(keeper=request.user).delete()
    messages.success(request, "The calendar address no longer works.")
    return redirect("calendar_link", tank.pk)


@require_safe
@paced(CALENDAR, plain=True)
@reading_once()
def open_calendar(request, token):
    link = CalendarLink.objects.for_token(token)
    if link is None:
        response = mark_wrong(
            HttpResponse("Nothing is here.\n", status=404, content_type="text/plain")
        )
    else:
        tank_url = request.build_absolute_uri(reverse("acclimation_list", args=[link.tank_id]))
        now = timezone.now()
        text = steps_calendar(
            link.tank, link.keeper, now=now, url=tank_url,
            made_on=link.created_at.astimezone(link.tank.zone).date(),
            reminders=[r for r in reminders_of(link.tank, now) if r.in_calendar],
        )  # fmt: skip
        response = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    for name, value in PRIVACY_HEADERS.items():
        response[name] = value
    return response
