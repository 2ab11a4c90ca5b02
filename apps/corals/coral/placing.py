"""Writing corals together with their first spots."""

from django.db import transaction


@transaction.atomic
def add_coral(*, coral, spot=None):
    """Save a new coral and, when given, its first Spot, from the day it came."""
    coral.save()
    if spot is not None:
        spot.coral, spot.since = coral, coral.added_on
        spot.save()
    return coral


@transaction.atomic
def add_corals(new):
    """Save many (coral, spot) pairs, all or none."""
    for coral, spot in new:
        add_coral(coral=coral, spot=spot)
