"""Where the corals sit that a tank may not be made too small for."""

from apps.corals.models import Coral, Spot
from apps.tanks.models import Tank


def spots_beyond(tank: Tank, axis: str, far_cm: float) -> list[tuple[int, str]]:
    """Return how many living corals sit beyond a place along an axis [cm], and their noun."""
    return [(sum(getattr(spot, axis) > far_cm for spot in last_spots(tank)), "coral spot")]


def spot_places(tank: Tank) -> list[tuple[str, list[tuple[float, float]]]]:
    """Return the noun of living corals' spots and where they are, (x, y) each [cm]."""
    return [("coral spot", [(spot.x_cm, spot.y_cm) for spot in last_spots(tank)])]


def last_spots(tank: Tank) -> list[Spot]:
    """Return where each living coral of a tank sits."""
    # Where a coral sat before, or one that is gone, was in the tank as it was then.
    living = Coral.objects.present().filter(tank=tank, gone_on__isnull=True)
    held = [
        [spot for spot in coral.spots.all() if spot.removed_at is None]
        for coral in living.prefetch_related("spots")
    ]
    return [max(spots, key=lambda spot: (spot.since, spot.pk)) for spots in held if spots]
