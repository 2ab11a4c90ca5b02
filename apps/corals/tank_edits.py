"""What a tank's corals and water say to an edit of its size or its time zone."""

from apps.corals.models import Coral, Spot, WaterEvent
from apps.tanks.models import Tank
from apps.tanks.rezoning import ClockRows


def water_event_moments(tank: Tank) -> list[ClockRows]:
    """Return a tank's water entries by when they happened, deleted ones too."""
    return [ClockRows(WaterEvent.objects.filter(tank=tank), "happened_at")]


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
