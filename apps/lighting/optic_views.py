"""A fixture's photometric file: brought in, looked at, taken out again."""

import re

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from apps.lighting.models import Fixture, Optic
from apps.lighting.optic_drawing import optic_drawing
from apps.lighting.optic_forms import PhotometricFileForm
from apps.lighting.optic_saving import file_turned_deg, save_optic


@login_required
def fixture_detail(request, pk):
    fixture = own_fixture(request.user, pk)
    measured = fixture.measured if fixture.optic == Optic.FILE else None
    photometry = measured.photometry() if measured else None
    turned = file_turned_deg(photometry, fixture) if photometry else 0.0
    context = {
        "fixture": fixture,
        "output": fixture.output(),
        "measured": measured,
        "photometry": photometry,
        "drawing": optic_drawing(fixture.beam_deg, photometry, turned_deg=turned),
    }
    return render(request, "lighting/fixture_detail.html", context)


@login_required
def fixture_optic(request, pk):
    """Bring a photometric file; the page shows what is wrong with it and keeps what was pasted."""
    fixture = own_fixture(request.user, pk)
    form = PhotometricFileForm(request.POST or None, request.FILES or None, fixture=fixture)
    if request.method == "POST" and form.is_valid():
        save_optic(fixture=fixture, photometry=form.photometry, fit=form.fit)
        messages.success(
            request,
            f"The file is the optic of {fixture.name} now: {form.photometry.source}, "
            f"{form.photometry.flux_lm:,.0f} lm.",
        )
        return redirect("fixture_detail", fixture.pk)
    context = {"fixture": fixture, "form": form, "sent_back": request.method == "POST"}
    status = 422 if request.method == "POST" else 200
    return render(request, "lighting/fixture_optic.html", context, status=status)


@login_required
def fixture_optic_file(request, pk):
    """Give the photometric file back as LM-63 text."""
    fixture = own_fixture(request.user, pk)
    if fixture.measured is None:
        raise Http404
    name = re.sub(r"[^a-z0-9]+", "-", fixture.name.lower()).strip("-") or "fixture"
    response = HttpResponse(fixture.measured.text, content_type="text/plain; charset=us-ascii")
    response["Content-Disposition"] = f'attachment; filename="{name}.ies"'
    return response


def own_fixture(user, pk):
    """Return a present fixture of the keeper's own library, or raise Http404."""
    return get_object_or_404(Fixture.objects.owned_by(user), pk=pk)
