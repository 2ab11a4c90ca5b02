"""Out and in: a tank or a whole account as one zip, and such a zip brought in again."""

import tempfile
from collections.abc import Callable
from typing import IO

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from apps.later.models import Job
from apps.later.queue import under_way
from apps.tanks.access import owned_tank
from apps.tanks.models import Tank
from apps.transfer.archive.arrivals import import_arrival, opened_arrival, stored_zip
from apps.transfer.archive.contents import tank_contents
from apps.transfer.archive.form import MEMORY_BYTES, UnfitZip
from apps.transfer.archive.forms import ArrivalForm
from apps.transfer.archive.jobs import (
    IMPORT,
    SEND_LATER,
    TANKS_AT_ONCE,
    UnderWay,
    is_large,
    place_zip,
    put_down_export,
    put_down_import,
    takes_long,
    words_of,
)
from apps.transfer.archive.preview import previews
from apps.transfer.archive.restoring import Restored
from apps.transfer.archive.writing import write_account, write_tank
from apps.transfer.models import Arrival

NEW, PREVIEW = "transfer/archive/tank_import.html", "transfer/archive/tank_import_preview.html"


@login_required
@require_GET
def tank_export(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Hand its owner all that a tank holds, or lead to where it will be."""
    tank = owned_tank(request.user, pk)
    if is_large(tank_contents(tank)):
        return to_job(put_down_export(request.user, tank))
    return zip_response(lambda out: write_tank(tank, out), tank.name)


@login_required
@require_GET
def account_export(request: HttpRequest) -> HttpResponseBase:
    """Hand a keeper all of their account, or lead to where it will be."""
    tanks = Tank._base_manager.filter(owner=request.user)
    if any(is_large(tank_contents(tank)) for tank in tanks) or tanks.count() > TANKS_AT_ONCE:
        return to_job(put_down_export(request.user))

    def write(out: IO[bytes]) -> None:
        with tempfile.SpooledTemporaryFile(max_size=MEMORY_BYTES) as scratch:
            write_account(request.user, out, scratch)

    return zip_response(write, "reeflog account")


def zip_response(write: Callable[[IO[bytes]], object], name: str) -> FileResponse:
    # Small ones stay in memory; photos of years go to a file that deletes itself. The answer closes
    # it once it is sent.
    out = tempfile.SpooledTemporaryFile(max_size=MEMORY_BYTES)  # noqa: SIM115
    write(out)
    out.seek(0)
    return FileResponse(
        out,
        as_attachment=True,
        filename=f"{slugify(name) or 'tank'}.zip",
        content_type="application/zip",
    )


@login_required
@require_http_methods(["GET", "POST"])
def tank_import(request: HttpRequest) -> HttpResponse:
    """Take a zip and lead to what it holds."""
    is_sent = request.method == "POST"
    if is_sent and (job := under_way(IMPORT, keeper=request.user)):
        # One zip a keeper is kept: this one would take the place of the one that comes in.
        messages.info(request, SEND_LATER)
        return to_job(job)
    form = ArrivalForm(request.POST, request.FILES) if is_sent else ArrivalForm()
    if is_sent and form.is_valid():
        try:
            sent = form.cleaned_data["file"]
            with stored_zip(file=sent, by=request.user) as arrival, transaction.atomic():
                place_zip(arrival)
            return redirect("tank_import_preview", arrival.key)
        except UnfitZip as problem:
            form.add_error("file", str(problem))
        except UnderWay:
            form.add_error("file", SEND_LATER)
    context = {"form": form, "most_mb": settings.ARRIVAL_BYTES_MAX // 1_000_000}
    return render(request, NEW, context, status=422 if form.errors else 200)


@login_required
@require_http_methods(["GET", "POST"])
def tank_import_preview(request: HttpRequest, key: str) -> HttpResponse:
    """Show what a zip holds; store it once its keeper says so."""
    arrival = get_object_or_404(Arrival, key=key, keeper=request.user)
    if arrival.imported_at is not None:
        messages.info(request, "This zip was imported already.")
        return _to_tanks(arrival)
    if job := under_way(IMPORT, keeper=request.user, arguments={"arrival_pk": arrival.pk}):
        return to_job(job)
    try:
        if request.method == "POST":
            if takes_long(arrival):
                return to_job(put_down_import(arrival))
            messages.success(request, _words(import_arrival(arrival)))
            return _to_tanks(arrival)
        with opened_arrival(arrival) as opened:
            context = {"arrival": arrival, "previews": previews(opened, request.user)}
        return render(request, PREVIEW, context)
    except UnfitZip as problem:
        messages.error(request, f"{problem} Nothing was imported.")
        return redirect("tank_import")


def _to_tanks(arrival: Arrival) -> HttpResponse:
    """Lead to the tank that a zip became, or to the list of several."""
    made = list(arrival.tank_imports.select_related("tank"))
    if len(made) == 1 and made[0].tank.removed_at is None:
        return redirect("tank_detail", made[0].tank_id)
    return redirect("tank_list")


def _words(result: list[Restored]) -> str:
    tanks = [one.tank for one in result if one.tank is not None]
    return words_of(tanks, sum(one.photos for one in result))


def to_job(job: Job) -> HttpResponse:
    """Lead to the page that says how far a job is."""
    return redirect("job_page", job.key)
