"""Sizes of a coral by calipers; those read from photos are changed on their photo."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.urls import reverse

from apps.common.idempotency import once
from apps.corals.access import writable_coral, writable_size
from apps.corals.colour_models import CoralSize
from apps.corals.photos.forms import SizeForm


@login_required
@once()
def size_new(request, coral_pk):
    coral = writable_coral(request.user, coral_pk)
    return edit_size(request, CoralSize(coral=coral, measured_on=coral.tank.today()))


@login_required
def size_edit(request, pk):
    size = writable_size(request.user, pk)
    if size.photo_id:
        return redirect("photo_detail", size.photo.key)
    return edit_size(request, size)


def edit_size(request, size):
    """Show or save the form of a size that already carries its coral."""
    form = SizeForm(request.POST or None, instance=size, unit=request.user.units)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved the size.")
        return redirect(f"{reverse('coral_detail', args=[size.coral_id])}#growth")
    context = {"tank": size.coral.tank, "coral": size.coral, "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "corals/photos/size_form.html", context, status=status)
