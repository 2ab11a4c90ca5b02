"""A keeper's own meters. Nobody else sees them, save by name on a survey."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.surveys.forms import MeterForm
from apps.surveys.models import Meter
from apps.tanks.access import tank_to_go_back_to


@login_required
def meter_list(request: HttpRequest) -> HttpResponse:
    meters = list(Meter.objects.owned_by(request.user))
    for meter in meters:
        meter.caution = meter.check_caution(timezone.localdate())
    return render(request, "surveys/meters/meter_list.html", {"meters": meters})


@login_required
@once()
def meter_new(request: HttpRequest) -> HttpResponse:
    return _form_page(request, Meter(owner=request.user), said="is kept")


@login_required
def meter_edit(request: HttpRequest, meter_pk: int) -> HttpResponse:
    meter = get_object_or_404(Meter.objects.owned_by(request.user), pk=meter_pk)
    return _form_page(request, meter, said="is changed; surveys already made keep their factor")


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
