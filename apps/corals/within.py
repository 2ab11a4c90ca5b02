"""Which corals lie beyond a side that is to become shorter."""

from apps.corals.models import Coral
from apps.tanks.models import Tank


def spots_beyond(tank: Tank, axis: str, far_cm: float) -> list[tuple[int, str]]:
    """Return how many living corals sit beyond a place along an axis [cm], and their noun."""
    # Where a coral sat before, or one that is gone, was in the tank as it was then.
    living = Coral.objects.present().filter(tank=tank, gone_on__isnull=True)
    held = [
        [spot for spot in coral.spots.all() if spot.removed_at is None]
        for coral in living.prefetch_related("spots")
    ]
    last = [max(spots, key=lambda spot: (spot.since, spot.pk)) for spots in held if spots]
    return [(sum(getattr(spot, axis) > far_cm for spot in last), "coral spot")]
