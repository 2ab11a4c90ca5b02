"""Links that show one photo without an account, for a while."""

import datetime as dt

from django.conf import settings
from django.core import signing
from django.urls import reverse
from django.utils import timezone

from apps.corals.models import Coral, HealthNote, Photo

SALT = "corals.photo_links"


def photo_link(photo):
    """Return the path that shows a photo to whoever holds it, and when it ends."""
    token = signing.dumps(str(photo.key), salt=SALT)
    ends = timezone.now() + dt.timedelta(hours=settings.PHOTO_LINK_HOURS)
    return reverse("photo_linked", args=[token]), ends


def linked_photo(token):
    """Return the Photo a link names, or None: expired, changed, or the photo is no longer there."""
    try:
        key = signing.loads(token, salt=SALT, max_age=settings.PHOTO_LINK_HOURS * 3600)
    except signing.BadSignature:
        return None
    corals = Coral.objects.present().filter(tank__removed_at__isnull=True)
    notes = HealthNote.objects.present().filter(coral__in=corals)
    return Photo.objects.filter(key=key, note__in=notes).first()
