"""The notes round: one pass through all corals of a tank, beside it and without a network."""

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import AnonymousUser
from django.http import JsonResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import ensure_csrf_cookie

from apps.common.devices.edits import answers_devices, decoded, require_keeper
from apps.corals.condition import meanings
from apps.corals.models import NOTE_PHOTOS_MAX, HealthNote
from apps.corals.notes.round import round_data
from apps.corals.notes.round_taking import TakenNotes, read_notes, take_notes
from apps.corals.notes.sign_words import all_words, signs_by_word
from apps.corals.pictures.decoder_lock import DecoderBusy
from apps.tanks.access import writable_tank

PAGE = "corals/notes/coral_round.html"
# When a device may send a photo again [s].
RETRY_AFTER_S = 10


def page_words():
    """Return what the page offers to tap, the same for every keeper and tank."""
    # "Looks well" goes without saying, and what else is seen has its words.
    unsaid = (HealthNote.Seen.WELL,)
    return {
        "meanings": meanings(),
        "seen_choices": [seen for seen in HealthNote.Seen if seen not in unsaid],
        "sign_words": all_words(),
        "signs_by_word": signs_by_word(),
        "photos_max": NOTE_PHOTOS_MAX,
        "where_choices": list(HealthNote.Where),
    }


@login_required
@ensure_csrf_cookie
@never_cache
def coral_round(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    context = {"tank": tank, "round": round_data(tank, request.user)}
    return render(request, PAGE, context | page_words())


def round_shell(request):
    """The same page with nobody in it: what a device keeps to start without a network."""
    request.user = AnonymousUser()
    return render(request, PAGE, {"round": None} | page_words())


@answers_devices
def round_sync(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    if request.method == "GET":
        return JsonResponse(answer_of(TakenNotes()))
    require_keeper(request, request.POST.get("keeper"))
    notes = read_notes(decoded(request.POST.get("notes", "")))
    try:
        taken = take_notes(
            tank=tank,
            notes=notes,
            photos=request.FILES,
            by=request.user,
            photo_bytes_max=settings.PHOTO_BYTES_MAX,
        )
    except DecoderBusy:
        # Nothing of it is stored, and the device keeps all of it and tries again.
        busy = {"problem": "Other photos are being worked on. Send again."}
        return JsonResponse(busy, status=503, headers={"Retry-After": RETRY_AFTER_S})
    return JsonResponse(answer_of(taken))


def answer_of(taken):
    """Return what was Taken as plain values for JSON."""
    kinds = {"refused": taken.refused, "standing": taken.standing, "told": taken.notices}
    by_mark = {
        name: {str(mark): value for mark, value in values.items()} for name, values in kinds.items()
    }
    return {"accepted": [str(mark) for mark in taken.accepted]} | by_mark
