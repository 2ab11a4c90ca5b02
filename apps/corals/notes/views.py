"""Health notes and their photos."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from apps.common.idempotency import once, written
from apps.common.numbers import whole_number
from apps.common.removal import offer_undo
from apps.corals.access import (
    readable_photo,
    writable_coral,
    writable_note,
)
from apps.corals.condition import meanings
from apps.corals.models import NOTE_PHOTOS_MAX, HealthNote
from apps.corals.notes.forms import NoteForm
from apps.corals.notes.noting import save_note, settle_other, stored_photo, use_other
from apps.corals.notes.round import round_data
from apps.corals.notes.sign_words import all_words
from apps.corals.pictures.handing_out import kept_photo_file


def fresh_note(coral, user):
    """Return an unsaved note of today."""
    return HealthNote(coral=coral, created_by=user, noted_on=coral.tank.today())


def draft_number(coral):
    """Return a number that changes with every note saved.

    It names the draft of the next note: one that was saved is not put back on the page that
    follows, which holds the same form again.
    """
    latest = coral.notes.order_by("-pk").first()
    return latest.pk if latest else 0


@login_required
@once(late=True)
def note_new(request, coral_pk):
    coral = writable_coral(request.user, coral_pk)
    note = fresh_note(coral, request.user)
    # A page that asks what is seen may say what it thinks; the keeper decides.
    if request.GET.get("seen") in HealthNote.Seen.values:
        note.seen = request.GET["seen"]
    return edit_note(request, coral, note)


@login_required
def note_edit(request, pk):
    note = writable_note(request.user, pk)
    return written(edit_note(request, note.coral, note))


def say_saved(request, note, *, is_new, other):
    """Say what was saved; `other` is a version made elsewhere meanwhile, or None."""
    text = f"{note.coral.name}: {note.in_words()}. Saved."
    if other:
        text += " It was changed elsewhere meanwhile; that version is kept beside it."
        messages.warning(request, text)
    elif is_new:
        offer_undo(request, text, reverse("note_remove", args=[note.pk]))
    else:
        messages.success(request, text)


def edit_note(request, coral, note):
    """Return the form's page of a note that already carries its coral, or what saves it.

    Photos are decoded while the form is checked, and stored before: nobody's save waits for that.
    """
    form = NoteForm(request.POST or None, request.FILES or None, instance=note)
    # A round through the list goes on in the list.
    back = "list" if request.GET.get("back") == "list" else ""
    if request.method == "POST" and form.is_valid():
        photos = [stored_photo(photo) for photo in form.cleaned_data["photo"]]
        return lambda: keep_note(request, note, form, photos, back)
    context = {
        "tank": coral.tank,
        "coral": coral,
        "form": form,
        "back": back,
        "draft_number": draft_number(coral),
        "meanings": meanings(),
        "sign_words": all_words(),
        "others": note.others.all() if note.pk else (),
        # What keeps a new note on the device where the network is gone.
        "round": None if note.pk else round_data(coral.tank, request.user, only=coral),
        "photos_max": NOTE_PHOTOS_MAX,
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "corals/notes/note_form.html", context, status=status)


def keep_note(request, note, form, photos, back):
    """Save the note of a valid form, and go back to its coral or to the list."""
    is_new = note.pk is None
    other = save_note(
        note=form.save(commit=False),
        photos=photos,
        photos_gone=form.cleaned_data["photos_gone"],
        knows=form.cleaned_data["knows"],
    )
    say_saved(request, note, is_new=is_new, other=other)
    coral = note.coral
    return redirect("coral_list", coral.tank_id) if back else redirect("coral_detail", coral.pk)


@login_required
@require_POST
def note_other_use(request, pk, other_pk):
    """Let a version that was kept beside a note stand in its place, or the other way round."""
    note = writable_note(request.user, pk)
    other = get_object_or_404(note.others, pk=other_pk)
    knows = whole_number(request.GET.get("knows", ""))
    try:
        used = use_other(other=other, knows=-1 if knows is None else knows)
    except ValidationError as problem:
        messages.error(request, f"Not changed: {' '.join(problem.messages)}")
        return redirect("coral_detail", note.coral_id)
    if used:
        again = reverse("note_other_use", args=[pk, other_pk]) + f"?knows={used.version}"
        offer_undo(request, f"{note.coral.name}: {used.in_words()}. This one counts now.", again)
    else:
        messages.warning(request, "The note was saved meanwhile: look at it as it is now.")
    return redirect("coral_detail", note.coral_id)


@login_required
@require_POST
def note_other_settle(request, pk, other_pk):
    note = writable_note(request.user, pk)
    settle_other(other=get_object_or_404(note.others, pk=other_pk))
    said = "The note stays as it is. The other version is on its Edit page, should you want it."
    messages.success(request, said)
    return redirect("coral_detail", note.coral_id)


@login_required
@require_GET
def photo_show(request, key, size):
    """Hand out a photo to those who may see its tank; the folder itself has no address."""
    photo = readable_photo(request.user, key)
    files = {"image": photo.image, "thumbnail": photo.thumbnail}
    if size not in files:
        raise Http404
    return kept_photo_file(files[size])
