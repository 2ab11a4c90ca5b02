"""How many photos a note holds, and a site keeps for one keeper, where its host set a bound."""

from django.conf import settings

from apps.corals.models import (
    NOTE_PHOTOS_MAX,
    TOO_MANY_PHOTOS,
    HealthNote,
    Photo,
    SentPhoto,
)
from apps.tanks.models import Tank


def photo_quota_problem(tank: Tank, more: int) -> str:
    """Return why so many more photos find no room with a tank's owner; "" where they do."""
    most = settings.PHOTOS_MAX
    if not most:
        return ""
    kept = Photo.objects.filter(note__coral__tank__owner=tank.owner_id).count()
    kept += SentPhoto.objects.filter(photo=None, tank__owner=tank.owner_id).count()
    if kept + more <= most:
        return ""
    return (
        f"This site keeps at most {most} photos for one keeper; this would make {kept + more}. "
        "Delete some first, or ask the site's host for more."
    )


def note_photo_problem(note: HealthNote, more: int) -> str:
    """Return why so many more photos find no room with a saved note; "" where they do."""
    if note.photos.count() + more > NOTE_PHOTOS_MAX:
        return TOO_MANY_PHOTOS
    return photo_quota_problem(note.coral.tank, more)
