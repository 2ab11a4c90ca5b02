"""Writing a coral together with its first spot."""

from django.db import transaction


@transaction.atomic
def add_coral(*, coral, spot=None):
    """Save a new coral and, when given, its first Spot, from the day it came."""
    coral.save()
    if spot is not None:
        spot.coral, spot.since = coral, coral.added_on
        spot.save()
    return coral
