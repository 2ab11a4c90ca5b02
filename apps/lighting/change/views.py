"""The light log: what was done to the light, and when. Times are those of the tank."""

import datetime as dt
from contextlib import nullcontext
from itertools import groupby

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import prefetch_related_objects
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from apps.common.idempotency import once
from apps.common.reading_once import reading_once
from apps.lighting.change.alike import ADD, with_alike
from apps.lighting.change.effect import CHECK_OFFERS
from apps.lighting.change.factor import factor_words
from apps.lighting.change.forms import LightChangeForm
from apps.lighting.change.log import forecast_words, light_log
from apps.lighting.change.rig_drawing import lit_sizes, rig_drawing
from apps.lighting.change.rig_forms import PREFIX, rig_rows
from apps.lighting.change.surveyed import surveyed_at
from apps.lighting.change.title import saved_title
from apps.lighting.day_drawing import day_drawing
from apps.lighting.day_run import DaySchedule
from apps.lighting.days_drawn import days_now
from apps.lighting.hanging import (
    save_light_change,
)
from apps.lighting.history import light_history
from apps.lighting.models import LightChange
from apps.lighting.overview import lamps_words
from apps.lighting.rig import rig_stated
from apps.lighting.rig_reading import rigs_after
from apps.tanks.access import (
    holding_tank,
    may_write,
    readable_tank,
    require_write,
    writable_tank,
)
from apps.tanks.beginning import beginning_of
from apps.tanks.kept_pages.pages import kept_page

NOTHING_NEW = "Nothing is different from now. Change what is different first."
ENTRIES_A_PAGE, ENTRIES_AT_FIRST = 30, 8
# More lamps than this are named in one line, and where each hangs folds.
LAMPS_IN_FULL = 3
# Rows of lamps that stand on the form at once; a single one more needs no fold.
ROWS_AT_FIRST = 3
# How long before the oldest survey the first entry of a log is dated.
FIRST_ENTRY_BEFORE = dt.timedelta(hours=1)


@login_required
@kept_page(readable_tank)
@reading_once()
def light_change_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    now, history = timezone.now(), light_history(tank)
    surveyed, writes = surveyed_at(tank), may_write(request.user, tank)
    changes = list(tank.light_changes.present().prefetch_related("days"))
    log = light_log(
        changes,
        history,
        rigs=rigs_after(tank),
        surveyed_at=surveyed[-1] if surveyed else None,
        now=now,
        unit=request.user.units,
    )
    rig = rig_stated(changes, now)
    shown = shown_entries(log.entries, request.GET)
    prefetch_related_objects([entry.change for entry in shown["page"]], "hung")
    context = {
        "tank": tank,
        "log": log,
        **shown,
        "forecasts": forecast_words(tank),
        "checks": CHECK_OFFERS.collect(tank, now) if writes else [],
        "day": day_drawing(history.schedule_at(now)),
        "days": days_now(history, now),
        "has_day": history.schedule_at(now) is not None,
        "rig": rig,
        "rig_in_short": lamps_words(rig) if rig and len(rig) > LAMPS_IN_FULL else "",
        # Whoever just entered their lights goes on from here.
        "next": beginning_of(tank, now).next if writes and len(changes) == 1 else None,
        "may_write": writes,
    }
    with timezone.override(tank.zone):
        return render(request, "lighting/change/light_change_list.html", context)


def shown_entries(entries, query):
    """Return the page of entries an address asks for, of those it narrows to, or that of one entry.

    On the first page the newest stand open and the others fold; whoever goes on reads all.
    """
    entries, chosen = narrowed(entries, query)
    pages, number = Paginator(entries, ENTRIES_A_PAGE), query.get("page")
    place = next((k for k, e in enumerate(entries) if str(e.change.pk) == query.get("entry")), None)
    if place is not None:
        number = place // ENTRIES_A_PAGE + 1
    page = pages.get_page(number)
    opens_all = page.number > 1 or (place or 0) >= ENTRIES_AT_FIRST
    first = ENTRIES_A_PAGE if opens_all else ENTRIES_AT_FIRST
    return chosen | {
        "opened_pk": None if place is None else entries[place].change.pk,
        "years": by_year(page[:first]),
        "folded": page[first:],
        "folded_years": by_year(page[first:]),
        "page": page,
    }


def narrowed(entries, query):
    """Return the entries of the kind, year and month that an address names, and what it may name.

    A month is one of a year, chosen or the only one. Months are offered where that year has more
    entries than a page holds, and where one is chosen, so that it can be left.
    """
    dated, reasons = [(e, day_of(e)) for e in entries], {e.change.reason for e in entries}
    kinds = [kind for kind in LightChange.Reason if kind in reasons]
    years = sorted({day.year for _, day in dated}, reverse=True)
    kind, year = one_of(kinds, query.get("kind")), one_of(years, query.get("year"))
    of_year = years[0] if len(years) == 1 else year
    months = sorted({day.replace(day=1) for _, day in dated if day.year == of_year})
    month = one_of([day.month for day in months], query.get("month"))
    dated = [
        (entry, day)
        for entry, day in dated
        if kind in ("", entry.change.reason) and year in ("", day.year)
    ]
    offers_months = month or len(dated) > ENTRIES_A_PAGE
    return [entry for entry, day in dated if month in ("", day.month)], {
        "kind": kind,
        "kinds": kinds,
        "year": year,
        "years_there": years,
        "month": month,
        "months_there": months if offers_months else [],
        # A log of many pages is entered by its years, which stand open then; so does a month.
        "is_long": len(entries) > ENTRIES_A_PAGE or bool(month),
    }


def one_of(choices, text):
    """Return the choice that a text of an address names, "" where it names none."""
    return next((choice for choice in choices if str(choice) == text), "")


def by_year(entries):
    """Return the (year, entries) pairs of entries in their order."""
    return [(year, list(some)) for year, some in groupby(entries, key=lambda e: day_of(e).year)]


def day_of(entry):
    """Return the day of an entry by its tank's clock."""
    change = entry.change
    return change.happened_at.astimezone(change.tank.zone).date()


@login_required
@once(but="more")
def light_change_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    schedule = light_history(tank).schedule_at(timezone.now())
    change = LightChange(tank=tank, created_by=request.user, happened_at=usual_moment(tank))
    if not tank.light_changes.present().exists():
        # The first entry says what hangs; nothing of it was changed.
        change.reason = LightChange.Reason.HUNG
    if isinstance(schedule, DaySchedule):
        change.day_hours, change.ramp_hours = schedule.day_hours, schedule.ramp_hours
    return edit_light_change(request, tank, change, given=request.GET if request.GET else None)


def usual_moment(tank):
    """Return when a new change is taken to have happened: now.

    The first entry tells what was there all along, so it lies before the oldest survey.
    """
    if not is_first_entry(tank):
        return timezone.now()
    return surveyed_at(tank)[0] - FIRST_ENTRY_BEFORE


def is_first_entry(tank):
    """Return whether a tank that was surveyed has no light log yet."""
    return bool(surveyed_at(tank)) and not tank.light_changes.present().exists()


@login_required
def light_change_edit(request, pk):
    change = readable_light_change(request.user, pk)
    require_write(request.user, change.tank)
    return edit_light_change(request, change.tank, change)


def edit_light_change(request, tank, change, *, given=None):
    """Show or save the form of a change that already carries its tank.

    `given` are fields that an address fills before anything was typed.
    """
    data = request.POST if request.method == "POST" else given
    # What comes without being meant to be saved is shown and not checked yet.
    again = data is not None and (data is given or "more" in data or ADD in data)
    if again:
        data = with_alike(data, tank, (), unit=request.user.units)
    saves = request.method == "POST" and not again
    with timezone.override(tank.zone):
        # Let go before a page is made: nobody else's save waits for that.
        with holding_tank(tank) if saves else nullcontext():
            rows = rig_rows(change, user=request.user, data=data, again=again)
            if again:
                form = LightChangeForm(initial=data.dict(), instance=change)
            else:
                form = LightChangeForm(data, instance=change)
            # Both are checked, so that every wrong cell is marked at once.
            if form.is_bound and all([form.is_valid(), not rows.is_bound or rows.is_valid()]):
                saved = save_entered(request, form, rows)
                if saved is not None:
                    say_saved(request, saved, form["factor"].data.strip())
                    return redirect(saved.place_in_log())
        return form_page(request, tank, change, form, rows, is_opened=data is None)


def form_page(request, tank, change, form, rows, *, is_opened):
    """Return the page of a change's form, as it is opened or sent back."""
    context = {
        "tank": tank,
        "form": form,
        "rows": rows,
        **rows_shown(rows),
        "rig_drawing": rig_drawing(tank, rows.before, unit=request.user.units),
        "lit_sizes": lit_sizes(rows.fixtures, rows.before),
        "unit": request.user.units,
        "sent_back": request.method == "POST",
        "dated_back": is_opened and change.pk is None and is_first_entry(tank),
    }
    status = 422 if form.is_bound else 200
    return render(request, "lighting/change/light_change_form.html", context, status=status)


def rows_shown(rows):
    """Return the rows of what hangs as a page shows them: the first ones, and those that fold."""
    first = ROWS_AT_FIRST if len(rows.hanging_rows) > ROWS_AT_FIRST + 1 else ROWS_AT_FIRST + 1
    folded = rows.hanging_rows[first:]
    return {
        "rows_first": rows.hanging_rows[:first],
        "rows_folded": folded,
        "opens_folded": any(row.stands_open for row in folded),
    }


def save_entered(request, form, rows):
    """Save a change by its valid forms; return it, None where a plan handed on says nothing."""
    hung, down = rows.to_save() if rows.is_bound else (None, ())
    if hung is None and is_empty_plan(request, form):
        form.add_error(None, NOTHING_NEW)
        return None
    return save_light_change(change=form.save(commit=False), hung=hung, taken_down=down)


def is_empty_plan(request, form):
    """Tell whether a rig was handed on by the address, and its entry would say nothing new.

    Unlike a keeper's own entry of no moved lamp, which may mean a change of light that
    no number shows, and makes the map a forecast.
    """
    day = {"day_hours", "ramp_hours"} & set(form.changed_data)
    return f"{PREFIX}-TOTAL_FORMS" in request.GET and not day and form.instance.factor == 1


def say_saved(request, change, typed):
    """Show how the entry was understood."""
    text = f"Saved “{saved_title(change, unit=request.user.units)}”."
    if change.factor != 1:
        text += (
            f" “{typed}” is taken as {change.factor:g} of the light before: "
            f"{factor_words(change.factor)}."
        )
    messages.success(request, text)


def readable_light_change(user, pk):
    """Return a present light change, or raise Http404 for a stranger."""
    return get_object_or_404(LightChange.objects.visible_to(user).select_related("tank"), pk=pk)
