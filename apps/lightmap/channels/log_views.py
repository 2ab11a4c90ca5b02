"""Logger series of a tank: bring one in, see its days, take it away."""

import datetime as dt

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from apps.accounts.models import User
from apps.common.htmx import go_to
from apps.common.idempotency import Write, once
from apps.lightmap.channels.log_forms import LoggedSeriesForm
from apps.lightmap.channels.logged_days import day_line, logged_days
from apps.photics.limits import LOG_LINES_MAX
from apps.surveys.models import LoggedSeries
from apps.surveys.tables.log_reading import ParsedLog
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page

BAD_LINES_SHOWN = 20


def _readable(user: User, pk: int) -> LoggedSeries:
    series = LoggedSeries.objects.visible_to(user).select_related("tank")
    return get_object_or_404(series, pk=pk)


@login_required
def log_list(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = readable_tank(request.user, tank_pk)
    series = tank.logged_series.present().defer("samples")
    context = {"tank": tank, "series": series, "may_write": may_write(request.user, tank)}
    return render(request, "lightmap/channels/log_list.html", context)


@login_required
@once(late=True)
def log_new(request: HttpRequest, tank_pk: int) -> HttpResponse | Write:
    """Return the form's page, or what saves the series; its file is read before."""
    tank = writable_tank(request.user, tank_pk)
    series = LoggedSeries(tank=tank, created_by=request.user)
    form = LoggedSeriesForm(
        request.POST or None, request.FILES or None, instance=series, unit=request.user.units
    )
    if request.method == "POST" and form.is_valid() and (parsed := form.parsed):
        return lambda: keep_series(request, form, parsed)
    context = {"tank": tank, "form": form, "most_lines": LOG_LINES_MAX}
    status = 422 if form.is_bound else 200
    return render(request, "lightmap/channels/log_form.html", context, status=status)


def keep_series(request: HttpRequest, form: LoggedSeriesForm, parsed: ParsedLog) -> HttpResponse:
    """Save what a valid form read of a file, say how much it was, and go to it."""
    series = form.save()
    messages.success(request, kept_words(parsed))
    _warn_of_unread(request, parsed)
    return go_to(request, reverse("log_detail", args=[series.pk]))


def kept_words(parsed: ParsedLog) -> str:
    """Return how much of a logger's series was kept."""
    if not parsed.thinned_min:
        return f"Kept {len(parsed.samples):,} readings of the logger."
    return (
        f"Kept {len(parsed.samples):,} means over {parsed.thinned_min} min of the logger’s "
        f"{parsed.given:,} readings: a day’s light is the same by them."
    )


def _warn_of_unread(request: HttpRequest, parsed: ParsedLog) -> None:
    if parsed.bad:
        shown = " ".join(f"Line {bad.number}: {bad.problem}" for bad in parsed.bad[:3])
        messages.warning(request, f"{len(parsed.bad)} lines were not read. {shown}")
    if parsed.repeated:
        messages.warning(request, f"{parsed.repeated} lines repeated a time and were left out.")


@login_required
@kept_page(_readable)
def log_detail(request: HttpRequest, log_pk: int) -> HttpResponse:
    series = _readable(request.user, log_pk)
    days = logged_days(series)
    named = [d for d in days if d.day == _day(request.GET.get("day"))]
    whole = [d for d in days if d.logged.is_whole]
    shown = next(iter(named or (whole or days)[-1:]), None)
    context = {
        "tank": series.tank,
        "series": series,
        "days": days,
        "shown": shown,
        "line": day_line(series, shown.day) if shown else None,
        "may_write": may_write(request.user, series.tank),
    }
    return render(request, "lightmap/channels/log_detail.html", context)


def _day(text: str | None) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text or "")
    except ValueError:
        return None
