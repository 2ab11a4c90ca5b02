"""Photos in bulk: send many, say of each which coral and day it is, store them as notes."""

import datetime as dt
import uuid
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET

from apps.common.removal import offer_undo
from apps.corals.history.photo_tray import (
    WAITING_DAYS,
    WAITING_MAX,
    Match,
    SentBefore,
    StillWaiting,
    Stored,
    keep_waiting,
    likely_coral,
    sound_note,
    store_matched,
    waiting_photos,
    waits_until,
)
from apps.corals.history_models import SentPhoto
from apps.corals.models import Coral, HealthNote
from apps.corals.photo_cleaning import FORMAT_WORDS, SIZES_WORDS, UnusablePhoto
from apps.corals.pictures.decoder_lock import DecoderBusy
from apps.corals.pictures.handing_out import kept_photo_file
from apps.tanks.access import require_write, writable_tank
from apps.tanks.models import Tank

PAGE = "corals/history/history_photos.html"
# What one request may bring: each takes up to a second, and a worker has half a minute.
AT_ONCE = 12
SKIP = "skip"
BUSY = "Other photos are being worked on. Send this one once more."


@dataclass
class WaitingRow:
    """A photo that waits, with what is said of it so far and what is wrong with that."""

    sent: SentPhoto
    day: str
    coral: str
    seen: str = ""
    problems: list[str] = field(default_factory=list)


@login_required
def history_photos(request: HttpRequest, tank_pk: int) -> HttpResponse:
    tank = writable_tank(request.user, tank_pk)
    if request.method != "POST":
        return _page(request, tank)
    if "store" in request.POST:
        return _store(request, tank)
    files = request.FILES.getlist("photos")
    if request.POST.get("one"):
        return _take_one(request, tank, files)
    for file in files[:AT_ONCE]:
        if problem := _take(request, tank, file)[0]:
            messages.error(request, f"{file.name}: {problem}")
    if len(files) > AT_ONCE:
        left = len(files) - AT_ONCE
        messages.warning(
            request, f"The first {AT_ONCE} were taken. Choose the other {left} and send them next."
        )
    if not files:
        messages.error(request, "Choose the photos first.")
    return redirect("history_photos", tank.pk)


def _take(request: HttpRequest, tank: Tank, file: Any) -> tuple[str, int]:
    """Let one file wait; return what is wrong with it, "" for nothing, and the answer's status."""
    try:
        keep_waiting(tank=tank, file=file, by=request.user, bytes_max=settings.PHOTO_BYTES_MAX)
    except DecoderBusy:
        return BUSY, 503
    except StillWaiting:
        return "", 200
    except (UnusablePhoto, SentBefore) as problem:
        return str(problem), 422
    except ValidationError as problem:
        return " ".join(problem.messages), 422
    return "", 200


def _take_one(request: HttpRequest, tank: Tank, files: list[Any]) -> HttpResponse:
    """Answer a script that sends the photos one by one."""
    if len(files) != 1:
        return JsonResponse({"problem": "Send one photo."}, status=422)
    problem, status = _take(request, tank, files[0])
    return JsonResponse({"problem": problem}, status=status)


def _store(request: HttpRequest, tank: Tank) -> HttpResponse:
    """Store the photos whose coral is chosen; those with something wrong stay as they are."""
    rows = _rows(request, tank)
    corals = {str(coral.pk): coral for coral in tank.corals.present()}
    matches, skipped = [], [row for row in rows if row.coral == SKIP]
    for row in rows:
        if match := _match(row, corals, tank):
            matches.append(match)
    try:
        stored = store_matched(tank=tank, matches=matches, by=request.user)
    except ValidationError as problem:
        messages.error(request, f"Nothing was stored: {' '.join(problem.messages)}")
        return _page(request, tank, rows=rows, status=422)
    for row in skipped:
        row.sent.delete()
    _say_stored(request, stored, len(skipped))
    wrong = [row for row in rows if row.problems]
    if wrong:
        done = {match.sent.pk for match in matches} | {row.sent.pk for row in skipped}
        left = [row for row in rows if row.sent.pk and row.sent.pk not in done]
        return _page(request, tank, rows=left, status=422)
    return redirect("history_photos", tank.pk)


def _match(row: WaitingRow, corals: dict[str, Coral], tank: Tank) -> Match | None:
    """Return the Match that a row states; None where none is, or where it can't be."""
    coral = corals.get(row.coral)
    if coral is None:
        return None
    coral.tank = tank
    try:
        day = dt.date.fromisoformat(row.day)
    except ValueError:
        row.problems.append("Say on which day it was taken.")
        return None
    match = Match(row.sent, coral, day, row.seen)
    try:
        sound_note(match)
    except ValidationError as problem:
        row.problems += problem.messages
        return None
    return match


def _say_stored(request: HttpRequest, stored: Stored, skipped: int) -> None:
    parts = []
    if stored.count:
        parts.append(f"Stored {stored.count} photo{'' if stored.count == 1 else 's'}.")
    if stored.joined:
        parts.append(f"{stored.joined} joined a note of that day.")
    if skipped:
        parts.append(f"Deleted {skipped}.")
    if not parts:
        messages.info(request, "Choose the coral of a photo to store it.")
    elif stored.kept:
        undo = reverse("history_import_remove", args=[stored.kept.pk])
        offer_undo(request, " ".join(parts), undo)
    else:
        messages.success(request, " ".join(parts))


def _rows(request: HttpRequest, tank: Tank) -> list[WaitingRow]:
    """Return the photos that wait, with what was sent of them or what is likely."""
    corals = list(tank.corals.present())
    rows = []
    for sent in waiting_photos(tank):
        likely = likely_coral(sent, corals)
        day = sent.taken_on.isoformat() if sent.taken_on else ""
        row = WaitingRow(sent, day, str(likely.pk) if likely else "")
        if request.method == "POST" and f"coral-{sent.key}" in request.POST:
            row.coral = request.POST[f"coral-{sent.key}"]
            row.day = request.POST.get(f"day-{sent.key}", "").strip()
            seen = request.POST.get(f"seen-{sent.key}", "")
            row.seen = seen if seen in HealthNote.Seen.values else ""
        elif request.method == "POST":
            row.coral = ""
        rows.append(row)
    return rows


def _page(
    request: HttpRequest, tank: Tank, *, rows: list[WaitingRow] | None = None, status: int = 200
) -> HttpResponse:
    rows = _rows(request, tank) if rows is None else rows
    context = {
        "tank": tank,
        "rows": rows,
        "first_end": min((waits_until(row.sent) for row in rows), default=None),
        "corals": sorted(tank.corals.present(), key=lambda c: (bool(c.gone_on), c.name.casefold())),
        "signs": HealthNote.Seen.choices,
        "skip": SKIP,
        "at_once": AT_ONCE,
        "waiting_max": WAITING_MAX,
        "waiting_days": WAITING_DAYS,
        "formats": FORMAT_WORDS,
        "sizes": SIZES_WORDS,
        "today": tank.today(),
    }
    return render(request, PAGE, context, status=status)


@login_required
@require_GET
def sent_photo_show(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Hand out a photo that waits to those who may match it."""
    visible = SentPhoto.objects.filter(tank__in=Tank.objects.visible_to(request.user), photo=None)
    sent = get_object_or_404(visible.select_related("tank"), key=key)
    require_write(request.user, sent.tank)
    return kept_photo_file(sent.thumbnail)
