"""Day curves of a tank: named, drawn, shaped, and started by a light change."""

from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.common.copy_names import copy_name
from apps.common.idempotency import once
from apps.drawing.day_curve import curve_drawing, curve_figures
from apps.lighting.change.forms import MomentForm
from apps.lighting.day.forms import (
    USUAL_POINTS,
    DayCurveForm,
    ShapeForm,
    clock_text,
    point_rows,
)
from apps.lighting.day.running import spans_run, start_day_curve
from apps.lighting.day.shaping import SHAPES, shaped
from apps.lighting.day_models import DayCurve
from apps.lighting.days_drawn import odd_days
from apps.lighting.history import light_history
from apps.lighting.spots import lit_spots
from apps.photics.day.curve import DayCurveError
from apps.photics.ground.dose import dli_mol
from apps.tanks.access import may_write, readable_tank, require_write, writable_tank

# Peaks nearer than this are the same: rounding [1].
SAME = 1e-3


@login_required
def day_curve_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    history, now = light_history(tank), timezone.now()
    running = {run.source_pk for run in history.days_at(now)}
    ran = spans_run(history, now)
    curves = [
        (row, curve_drawing([(row.name, row.curve())]), curve_figures(row.curve()), ran[row.pk])
        for row in tank.day_curves.present()
    ]
    context = {
        "tank": tank,
        "curves": curves,
        "running": running,
        "schedule": history.schedule_at(now),
        "may_write": may_write(request.user, tank),
    }
    with timezone.override(tank.zone):
        return render(request, "lighting/day/day_curve_list.html", context)


@dataclass(frozen=True)
class SpotDay:
    """What a day gives at a spot [mol m-2 d-1], with the interval of its PAR."""

    name: str
    par_peak_umol: float
    dli_mol: float
    low_mol: float
    high_mol: float


@login_required
def day_curve_detail(request, pk):
    row = readable_day_curve(request.user, pk)
    form = MomentForm(initial={"happened_at": timezone.now()})
    return show_day_curve(request, row, form)


def show_day_curve(request, row, form, *, status=200):
    """Show a day curve with what it gives, and the form that starts it."""
    tank, curve = row.tank, row.curve()
    history = light_history(tank)
    runs = [run for run in history.days_at(timezone.now()) if run.source_pk == row.pk]
    context = {
        "tank": tank,
        "row": row,
        "drawing": curve_drawing([(row.name, curve)]),
        "figures": curve_figures(curve),
        "points": [(clock_text(minute), level) for minute, level in row.points],
        "odd_days": odd_days(curve, tank.today(), tank.zone),
        "spots": spot_days(row) if shines_on_all(row) else (),
        "shines_on_all": shines_on_all(row),
        "peak_step": peak_step(row, history),
        "run": runs[0] if runs else None,
        "ran": spans_run(history, timezone.now())[row.pk],
        "run_differs": bool(runs) and runs[0].curve.points != curve.points,
        "form": form,
        "may_write": may_write(request.user, tank),
    }
    with timezone.override(tank.zone):
        return render(request, "lighting/day/day_curve_detail.html", context, status=status)


def peak_step(row, history):
    """Return (peak now, peak with this curve, light for 1 before), or None when it stays [%]."""
    schedule = history.schedule_at(timezone.now())
    before, after = (schedule.peak if schedule else 1.0), row.curve().peak
    if not shines_on_all(row) or not before or not after or abs(after / before - 1) < SAME:
        return None
    return 100 * before, 100 * after, after / before


def shines_on_all(row):
    """Return whether a DayCurve alone says what the corals of the display get."""
    return row.zone == "display" and not row.group and not row.is_moonlight


def spot_days(row):
    """Return a SpotDay for every spot whose light is known."""
    curve = row.curve()

    def dose(par_umol):
        return dli_mol(par_umol, full_hours=curve.full_hours)

    return tuple(
        SpotDay(
            spot.name,
            spot.par_full_umol * curve.peak,
            dose(spot.par_full_umol),
            dose(spot.low_full_umol),
            dose(spot.high_full_umol),
        )
        for spot in lit_spots(row.tank, timezone.now())
    )


@login_required
@once()
def day_curve_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    row = DayCurve(tank=tank, created_by=request.user, points=USUAL_POINTS, share_percent=None)
    return edit_day_curve(request, row)


@login_required
def day_curve_edit(request, pk):
    row = readable_day_curve(request.user, pk)
    require_write(request.user, row.tank)
    return edit_day_curve(request, row)


def edit_day_curve(request, row):
    """Show, look at, shape or save a day curve that already carries its tank."""
    if request.method != "POST":
        return show_editor(request, row, DayCurveForm(instance=row), point_rows(row.points))
    do = request.POST.get("do", "save")
    rows = point_rows(row.points, data=request.POST)
    is_readable = rows.is_valid()
    if is_readable:
        row.points = rows.points()
    if do == "save":
        return save_day_curve(request, row, rows, is_readable)
    form = typed_form(request.POST, row)
    if do in SHAPES:
        return shape_day_curve(request, row, rows, form, do)
    if do == "look" and request.htmx:
        context = look_of(row, is_readable)
        return render(request, "lighting/day/_day_curve_figures.html", context)
    return show_editor(request, row, form, point_rows(row.points) if is_readable else rows)


def save_day_curve(request, row, rows, is_readable):
    """Save what was typed when all of it is a day, else show it again with what is wrong."""
    form = DayCurveForm(request.POST, instance=row)
    # Both are checked, so that every wrong cell is marked at once.
    if form.is_valid() and is_readable:
        form.save()
        messages.success(request, f"“{row.name}” is saved.")
        return redirect("day_curve_detail", row.pk)
    return show_editor(request, row, form, rows, status=422)


def shape_day_curve(request, row, rows, form, shape):
    """Show the points after a shaping button; nothing is saved yet."""
    spots = lit_spots(row.tank, timezone.now())
    shape_form = ShapeForm(request.POST, spots=spots)
    if not (rows.is_valid() and shape_form.is_valid()):
        return show_editor(request, row, form, rows, shape_form=shape_form, status=422)
    try:
        entered = shape_form.cleaned_data
        row.points, said = shaped(row.points, shape=shape, entered=entered, spots=spots)
    except ValidationError as problem:
        shape_form.add_error(None, problem)
        return show_editor(request, row, form, rows, shape_form=shape_form, status=422)
    return show_editor(request, row, form, point_rows(row.points), shape_form=shape_form, said=said)


def typed_form(data, row):
    """Return the form with what was typed, not checked yet."""
    typed = data.dict() | {"is_moonlight": "is_moonlight" in data}
    return DayCurveForm(initial=typed, instance=row)


def show_editor(request, row, form, rows, *, shape_form=None, said="", status=200):
    """Show the form of a day curve."""
    context = {
        "tank": row.tank,
        "row": row,
        "form": form,
        "rows": rows,
        "shape": shape_form or ShapeForm(spots=lit_spots(row.tank, timezone.now())),
        "said": said,
        "sent_back": request.method == "POST",
    } | look_of(row, not rows.is_bound or rows.is_valid())
    return render(request, "lighting/day/day_curve_form.html", context, status=status)


def look_of(row, is_readable):
    """Return the drawing and figures of a DayCurve, as far as its points can be drawn."""
    if not is_readable:
        return {"look_problems": ["Not every time and level can be read yet."]}
    try:
        curve = row.curve()
    except DayCurveError as problem:
        return {"look_problems": problem.problems}
    return {"drawing": curve_drawing([(row.name, curve)]), "figures": curve_figures(curve)}


@login_required
@require_POST
@once()
def day_curve_copy(request, pk):
    row = readable_day_curve(request.user, pk)
    require_write(request.user, row.tank)
    source, row.pk, row._state.adding = row.name, None, True
    row.name = copy_name(source, most=DayCurve._meta.get_field("name").max_length)
    row.created_by = request.user
    row.full_clean(exclude={"created_by"})
    row.save()
    messages.success(request, f"A copy of “{source}”. Change what is different about it.")
    return redirect("day_curve_edit", row.pk)


@login_required
@require_POST
@once()
def day_curve_start(request, pk):
    row = readable_day_curve(request.user, pk)
    require_write(request.user, row.tank)
    with timezone.override(row.tank.zone):
        form = MomentForm(request.POST)
        if form.is_valid():
            try:
                change = start_day_curve(
                    curve=row,
                    happened_at=form.cleaned_data["happened_at"],
                    created_by=request.user,
                )
            except ValidationError as problem:
                form.add_error("happened_at", problem.messages)
            else:
                messages.success(request, f"“{row.name}” is running and is in the light log.")
                return redirect(change.place_in_log())
        return show_day_curve(request, row, form, status=422)


def readable_day_curve(user, pk):
    """Return a present day curve, or raise Http404 for a stranger."""
    return get_object_or_404(DayCurve.objects.visible_to(user).select_related("tank"), pk=pk)
