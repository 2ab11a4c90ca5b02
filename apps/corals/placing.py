"""Writing a coral together with its first spot, and bringing back a spot that was taken away."""

import datetime as dt

from django.core import signing
from django.db import transaction

from apps.corals.models import Spot

SALT = "reeflog.spot"
# An undo is asked for within the hour or not at all; a day leaves room for a closed laptop.
UNDO_SECONDS = 24 * 3600


@transaction.atomic
def add_coral(*, coral, spot=None):
    """Save a new coral and, when given, its first Spot, from the day it came."""
    coral.save()
    if spot is not None:
        spot.coral, spot.since = coral, coral.added_on
        spot.save()
    return coral


def take_spot_away(spot):
    """Delete a spot and return a signed text that `bring_spot_back` can make it from again."""
    token = signing.dumps(
        [spot.coral_id, spot.x_cm, spot.y_cm, spot.depth_cm, spot.since.isoformat()], salt=SALT
    )
    spot.delete()
    return token


def bring_spot_back(coral, token):
    """Make a spot again from its signed text.

    Raises signing.BadSignature for a text not made here or for another coral, and
    ValidationError when the coral has a spot from that day by now.
    """
    pk, x, y, depth, since = signing.loads(token, salt=SALT, max_age=UNDO_SECONDS)
    if pk != coral.pk:
        raise signing.BadSignature("made for another coral")
    spot = Spot(coral=coral, x_cm=x, y_cm=y, depth_cm=depth, since=dt.date.fromisoformat(since))
    spot.full_clean()
    spot.save()
    return spot
