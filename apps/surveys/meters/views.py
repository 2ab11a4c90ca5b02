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
from apps.surveys.forms import MeterForm
from apps.surveys.meters.scales import CheckedScales, checked_scales
from apps.surveys.models import Meter, MeterCheck, Survey
from apps.tanks.access import tank_to_go_back_to

# Half of a 90 % interval of a normal law [deviations], by definition.
NORMAL_90 = 1.645
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
    return _form_page(request, Meter(owner=request.user), said="is kept")


@login_required
def meter_edit(request: HttpRequest, meter_pk: int) -> HttpResponse:
    meter = get_object_or_404(Meter.objects.owned_by(request.user), pk=meter_pk)
    return _form_page(request, meter, said="is changed; surveys already made keep their factor")


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


def _form_page(request: HttpRequest, meter: Meter, *, said: str) -> HttpResponse:
    form = MeterForm(request.POST or None, instance=meter)
    tank = tank_to_go_back_to(request)
    if request.method == "POST" and form.is_valid():
        meter = form.save()
        messages.success(request, f"{meter.label} {said}.")
        back = tank and f"{reverse('survey_new', args=[tank.pk])}?meter={meter.pk}"
        return go_to(request, back or "meter_list")
    context = {"form": form, "meter": meter, "tank": tank}
    status = 422 if form.is_bound else 200
    return render_part(
        request,
        "surveys/meters/meter_edit.html",
        "surveys/meters/_meter_form.html",
        context,
        status=status,
    )
