"""A coral, a note or a photo for one reader: strangers get 404, readers who write get 403."""

from django.shortcuts import get_object_or_404

from apps.corals.models import Coral, CoralSize, HealthNote, Photo, Spot, WaterEvent
from apps.tanks.access import require_write


def readable_coral(user, pk):
    """Return a present coral with its tank and spots, or raise Http404."""
    corals = Coral.objects.visible_to(user).select_related("tank", "parent")
    corals = corals.prefetch_related("spots")
    return get_object_or_404(corals, pk=pk)


def writable_coral(user, pk):
    coral = readable_coral(user, pk)
    require_write(user, coral.tank)
    return coral


def writable_spot(user, pk):
    spots = Spot.objects.filter(coral__in=Coral.objects.visible_to(user))
    spot = get_object_or_404(spots.select_related("coral__tank"), pk=pk)
    require_write(user, spot.coral.tank)
    return spot


def writable_note(user, pk):
    notes = HealthNote.objects.visible_to(user).select_related("coral__tank")
    note = get_object_or_404(notes, pk=pk)
    require_write(user, note.coral.tank)
    return note


def readable_photo(user, key):
    return get_object_or_404(
        Photo.objects.filter(note__in=HealthNote.objects.visible_to(user)), key=key
    )


def writable_water_event(user, pk):
    events = WaterEvent.objects.visible_to(user).select_related("tank")
    event = get_object_or_404(events, pk=pk)
    require_write(user, event.tank)
    return event


def photo_of(user, key):
    """Return a photo with its note, coral and tank, or raise Http404 for a stranger."""
    photos = Photo.objects.filter(note__in=HealthNote.objects.visible_to(user))
    return get_object_or_404(photos.select_related("note__coral__tank__owner"), key=key)


def writable_photo(user, key):
    photo = photo_of(user, key)
    require_write(user, photo.note.coral.tank)
    return photo


def writable_size(user, pk):
    """Return a size that may have been taken away, to change it or bring it back."""
    sizes = CoralSize.objects.filter(coral__in=Coral.objects.visible_to(user))
    size = get_object_or_404(sizes.select_related("coral__tank"), pk=pk)
    require_write(user, size.coral.tank)
    return size
