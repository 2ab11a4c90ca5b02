"""Checks of a keeper's meters against a reference or each other, and the factor they lead to."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.common.htmx import go_to, render_part
from apps.common.idempotency import once
from apps.surveys.access import writable_survey
from apps.surveys.forms import MeterCheckForm
from apps.surveys.meters.cross_check import (
    check_of,
    chosen_partner,
    is_of_own_meters,
)
from apps.surveys.meters.following import keep_check
from apps.surveys.meters.meter_page import page_of_meter
from apps.surveys.meters.scales import take_factor
from apps.surveys.models import Meter, MeterCheck


@login_required
@once()
def meter_check_new(request: HttpRequest, meter_pk: int) -> HttpResponse:
    meter = get_object_or_404(Meter.objects.kept_by(request.user).present(), pk=meter_pk)
    check = MeterCheck(meter=meter, checked_on=timezone.localdate())
    form = MeterCheckForm(request.POST or None, instance=check)
    if request.method == "POST" and form.is_valid():
        changed = keep_check(check)
        messages.success(request, f"The check of {meter.label} is kept.{followed_words(changed)}")
        return go_to(request, page_of_meter(meter))
    return render_part(
        request,
        "surveys/meters/meter_check.html",
        "surveys/meters/_meter_check_form.html",
        {"form": form, "meter": meter, "back": page_of_meter(meter)},
        status=422 if form.is_bound else 200,
    )


@login_required
@require_POST
@once()
def cross_check_keep(request: HttpRequest, survey_pk: int) -> HttpResponse:
    """Keep what two surveys showed of the keeper's own two meters as a check of the first."""
    survey = writable_survey(request.user, survey_pk)
    partner = chosen_partner(survey, request.POST.get("with", ""))
    address = reverse("survey_cross_check", args=[survey.pk])
    if partner is None or not is_of_own_meters(request.user, survey, partner):
        messages.error(request, "Not kept: it takes two surveys with two of your own meters.")
        return redirect(address)
    check = check_of(survey, partner)
    try:
        check.full_clean()
    except ValidationError as problem:
        messages.error(request, " ".join(problem.messages))
        return redirect(f"{address}?with={partner.pk}")
    keep_check(check)
    messages.success(request, f"The comparison of {check.meter} and {check.other} is kept.")
    return redirect("meter_list")


def followed_words(changed: int) -> str:
    """Say how many surveys follow a change of their meter; empty where none does."""
    if not changed:
        return ""
    return f" {changed} survey{'s' if changed > 1 else ''} taken since then now use its factor."


@login_required
@require_POST
def meter_take_factor(request: HttpRequest, meter_pk: int) -> HttpResponse:
    """Correct a meter by what its checks say; surveys already made keep their factor."""
    meter = get_object_or_404(Meter.objects.owned_by(request.user), pk=meter_pk)
    try:
        take_factor(meter)
    except ValidationError as problem:
        messages.error(request, " ".join(problem.messages))
        return redirect("meter_list")
    messages.success(
        request,
        f"Readings of {meter.label} are now multiplied by {meter.total_factor():.4g}; surveys "
        "already made keep their factor.",
    )
    return redirect("meter_list")
