"""Corals that go on in another tank when theirs ends."""

import datetime as dt
from collections.abc import Iterator

from apps.corals.models import Coral
from apps.tanks.models import Tank


def move_corals(tank: Tank, successor: Tank, day: dt.date) -> Iterator[str]:
    """Move the living corals of a tank to its successor; yield how many, in words.

    Each is one coral here that moved, with all its history, and one there that begins on the day:
    the light it had is that of the tank it was in.
    """
    living = list(Coral.objects.present().living().filter(tank=tank))
    for coral in living:
        begin_in(successor, coral, day)
        coral.gone_on, coral.gone_how = max(day, coral.added_on), Coral.Gone.MOVED
        coral.gone_words = f"to {successor.name}"
        coral.save(update_fields=["gone_on", "gone_how", "gone_words"])
    if living:
        yield f"{len(living)} coral{'' if len(living) == 1 else 's'} moved to {successor.name}"


def begin_in(successor: Tank, coral: Coral, day: dt.date) -> None:
    """Make the coral that goes on in the successor as this one."""
    begun = Coral(
        tank=successor,
        name=coral.name,
        group=coral.group,
        genus=coral.genus,
        band_low_umol=coral.band_low_umol,
        band_high_umol=coral.band_high_umol,
        added_on=max(day, coral.added_on),
        came_from=f"moved from {coral.tank.name}",
    )
    begun.full_clean()
    begun.save()
