"""A keeper's own meters. Nobody else sees them, save by name on a survey."""

import math
from dataclasses import dataclass

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.photics.ground.normal import NORMAL_90
from apps.surveys.forms import MeterForm
from apps.surveys.meters.following import follow
from apps.surveys.meters.meter_page import page_of_meter
from apps.surveys.meters.scales import CheckedScales, checked_scales
from apps.surveys.models import Meter, MeterCheck, Survey
from apps.tanks.access import tank_to_go_back_to

# Factors nearer than this are not worth a change [log]: our own choice.
ALIKE_LOG = 0.005


@login_required
def meter_list(request: HttpRequest) -> HttpResponse:
    present = MeterCheck.objects.present().select_related("meter", "other")
    meters = list(
        Meter.objects.owned_by(request.user).prefetch_related(Prefetch("checks", queryset=present))
    )
    scales = checked_scales(request.user.pk)
    surveys = Survey.objects.visible_to(request.user).filter(meter__in=meters).newest_first()
    last = {survey.meter_id: survey for survey in reversed(list(surveys))}
    for meter in meters:
        meter.last_survey = last.get(meter.pk)
        meter.caution = meter.check_caution(timezone.localdate())
        meter.checked = checked_words(meter, scales)
    return render(request, "surveys/meters/meter_list.html", {"meters": meters})


@login_required
@once()
def meter_new(request: HttpRequest) -> HttpResponse:
    return meter_form_page(request, Meter(owner=request.user))


@login_required
def meter_edit(request: HttpRequest, meter_pk: int) -> HttpResponse:
    meter = get_object_or_404(Meter.objects.kept_by(request.user).present(), pk=meter_pk)
    return meter_form_page(request, meter)


@dataclass(frozen=True)
class CheckedScale:
    """What all checks together say of a meter."""

    factor: float  # what its values are to be multiplied by, water included [1]
    low: float
    high: float
    is_taken: bool  # whether the meter's own factor is that already


def checked_words(meter: Meter, scales: CheckedScales) -> CheckedScale | None:
    """Return the CheckedScale of a meter, None where no check says anything."""
    if not scales.known(meter):
        return None
    factor, deviation = scales.factor(meter), scales.deviation(meter)
    half = math.exp(NORMAL_90 * deviation)
    apart = abs(math.log(factor / meter.total_factor()))
    return CheckedScale(factor, factor / half, factor * half, is_taken=apart < ALIKE_LOG)


def meter_form_page(request: HttpRequest, meter: Meter) -> HttpResponse:
    """Answer with the form of a meter, or keep what it says and go to where the meter is seen."""
    form = MeterForm(request.POST or None, instance=meter)
    tank = tank_to_go_back_to(request)
    if request.method == "POST" and form.is_valid():
        messages.success(request, f"{meter.label} {kept_words(form)}.")
        back = tank and f"{reverse('survey_new', args=[tank.pk])}?meter={meter.pk}"
        return go_to(request, back or page_of_meter(meter))
    context = {"form": form, "meter": meter, "tank": tank}
    context["back"] = page_of_meter(meter) if meter.pk or not meter.club_id else club_page(meter)
    status = 422 if form.is_bound else 200
    return render_part(
        request,
        "surveys/meters/meter_edit.html",
        "surveys/meters/_meter_form.html",
        context,
        status=status,
    )


def kept_words(form: MeterForm) -> str:
    """Save a valid form and say what became of the surveys made with the meter."""
    meter = form.instance
    if meter.pk is None:
        form.save()
        return "is kept"
    changed = follow(meter=meter, change=form.save)
    if changed:
        return f"is changed, and {changed} survey{'s follow' if changed > 1 else ' follows'}"
    return "is changed; surveys already made keep their factor"


def club_page(meter: Meter) -> str:
    return reverse("club_detail", args=[meter.club_id])
