"""One photo: marking it, what its colour is, and links that show it for a while."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from apps.common.throttling import PHOTO, mark_wrong, paced
from apps.corals.access import photo_of, writable_photo
from apps.corals.colour_models import CoralSize, PhotoColour
from apps.corals.photos.colour_story import colour_story
from apps.corals.photos.colouring import (
    answer_colour,
    kept_marks,
    proposed_marks,
)
from apps.corals.photos.forms import MarkForm, mark_initial
from apps.corals.photos.links import linked_photo, photo_link
from apps.corals.photos.mark_drawing import drawn_marks
from apps.corals.photos.marking import save_marks
from apps.corals.pictures.handing_out import photo_file
from apps.tanks.access import may_write, require_write


@login_required
def photo_detail(request, key):
    """Show a photo with its marks and colour; a writer marks it anew."""
    photo = photo_of(request.user, key)
    coral = photo.note.coral
    if request.method == "POST":
        require_write(request.user, coral.tank)
    colour = PhotoColour.objects.present().filter(photo=photo).first()
    size = CoralSize.objects.present().filter(photo=photo).first()
    writes = may_write(request.user, coral.tank)
    marks = kept_marks(colour) if colour else None
    if marks is None and writes and request.method != "POST":
        marks = proposed_marks(photo)
    initial = mark_initial(marks, size) if marks else {}
    form = MarkForm(request.POST or None, initial=initial, unit=request.user.units)
    if request.method == "POST" and form.is_valid() and save_marks(form, photo):
        return redirect("photo_detail", photo.key)
    context = {
        "form": form,
        "may_write": writes,
        "link_hours": settings.PHOTO_LINK_HOURS,
        "link": request.session.pop("photo_link", None),
        **marked_photo(photo, marks, size),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "corals/photos/photo_detail.html", context, status=status)


def marked_photo(photo, marks, size):
    """Return what a page shows of a photo, the Marks on it and its CoralSize; both may be None."""
    coral, (width_px, height_px) = photo.note.coral, photo.size_px()
    story = colour_story(coral)
    return {
        "tank": coral.tank,
        "coral": coral,
        "photo": photo,
        "width": width_px,
        "height": height_px,
        "marks": marks,
        "drawn": drawn_marks(marks, size, width_px=width_px, height_px=height_px),
        "size": size,
        "point": next((p for p in story.points if p.colour.photo_id == photo.pk), None),
        "series_words": story.series_words,
    }


@login_required
@require_POST
def colour_answer(request, key):
    """Keep what the keeper says of a change; a note is written by them, never by itself."""
    photo = writable_photo(request.user, key)
    answer = request.POST.get("answer")
    if answer not in (PhotoColour.Answer.SEEN, PhotoColour.Answer.NOT_SO):
        raise Http404
    answer_colour(photo=photo, answer=answer)
    coral = photo.note.coral
    if answer == PhotoColour.Answer.SEEN:
        seen = request.POST.get("seen", "")
        return redirect(f"{reverse('note_new', args=[coral.pk])}?seen={seen}")
    messages.success(request, "Noted as no change. The photo stays in the coral’s own range.")
    return redirect("coral_detail", coral.pk)


@login_required
@require_POST
def photo_link_new(request, key):
    """Make a link that shows the photo without an account until it ends."""
    photo = writable_photo(request.user, key)
    path, ends = photo_link(photo)
    request.session["photo_link"] = {
        "url": request.build_absolute_uri(path),
        "ends": ends.astimezone(photo.note.coral.tank.zone).strftime("%-d %b %Y, %H:%M"),
    }
    return redirect(f"{reverse('photo_detail', args=[photo.key])}#link")


@require_GET
@never_cache
@paced(PHOTO)
def photo_linked(request, token):
    """Show the photo a signed link names; no account is needed, and it ends."""
    photo = linked_photo(token)
    if photo is None:
        return mark_wrong(render(request, "404.html", status=404))
    response = photo_file(photo.image)
    response["X-Robots-Tag"] = "noindex"
    return response
