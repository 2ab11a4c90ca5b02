"""Logger series of a tank: bring one in, see its days, take it away."""

import datetime as dt

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from apps.accounts.models import User
from apps.common.htmx import go_to
from apps.common.idempotency import Write, once
from apps.common.model_forms import WholeModelForm
from apps.common.tables.date_order import DateOrderField
from apps.common.tables.forms import TableFileField, pasted_lines
from apps.common.tables.reading import UnreadableTable
from apps.common.units import LengthField, NumberField
from apps.lightmap.channels.logged_days import day_line, logged_days
from apps.photics.limits import LOG_BYTES_MAX, LOG_LINES_MAX
from apps.surveys.meter_models import METER_FACTOR
from apps.surveys.models import LoggedSeries
from apps.surveys.tables.log_reading import ParsedLog, UnsureDates, parse_log
from apps.tanks.access import may_write, readable_tank, writable_tank
from apps.tanks.kept_pages.pages import kept_page

BAD_LINES_SHOWN = 20
# A form's fields hold 5 MB together; a longer text comes as a file.
BOX_CHARS_MAX = 2_000_000


class LoggedSeriesForm(WholeModelForm, forms.ModelForm):
    data: QueryDict
    text = pasted_lines(
        "Paste the logger’s table",
        rows=8,
        help_text="A time and a PAR value a line, such as “2026-03-01 14:30;212”; under headings "
        "other columns may stand beside them. Times by the clock at the tank, unless they carry "
        "an offset.",
    )
    file = TableFileField(
        label="Or choose its file", lines_max=LOG_LINES_MAX, bytes_max=LOG_BYTES_MAX
    )
    dates = DateOrderField()

    class Meta:
        model = LoggedSeries
        fields = ["label", "x_cm", "y_cm", "depth_cm", "correction_factor"]

    def __init__(self, *args: object, unit: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        tank = self.instance.tank
        names = {"x_cm": "From the left end", "y_cm": "From the front pane", "depth_cm": "Depth"}
        ends = {"x_cm": tank.length_cm, "y_cm": tank.width_cm, "depth_cm": tank.depth_cm}
        for name, label in names.items():
            self.fields[name] = LengthField(
                unit=unit, low_cm=0, high_cm=ends[name], label=f"{label}, {unit}"
            )
        low, high = METER_FACTOR
        self.fields["correction_factor"] = NumberField(
            label="Multiply readings by", low=low, high=high, help_text="1 if it corrects itself."
        )
        self.parsed: ParsedLog | None = None

    def clean(self) -> dict[str, object]:
        data: dict[str, object] = super().clean()
        if "file" in self.errors:
            return data
        file = self.files.get("file")
        text = getattr(data["file"], "text", "") if file else str(data.get("text") or "")
        dates = str(data.get("dates", ""))
        try:
            self.parsed = parse_log(text, zone=self.instance.tank.zone, dates=dates)
        except UnsureDates as problem:
            # A file is not sent again with the answer, so its text stands in the box.
            if len(text) <= BOX_CHARS_MAX:
                self.data = self.data.copy()
                self.data["text"] = text
            else:
                self.add_error("file", "It is too long for the box: choose the file again.")
            self.add_error("dates", str(problem))
        except UnreadableTable as problem:
            self.add_error("file" if file else "text", str(problem))
        else:
            self.instance.samples = [list(sample) for sample in self.parsed.samples]
        return data

    def _get_validation_exclusions(self) -> set[str]:
        # Without samples the text above has its own sentence.
        return super()._get_validation_exclusions() | (
            {"samples"} if self.parsed is None else set()
        )


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
