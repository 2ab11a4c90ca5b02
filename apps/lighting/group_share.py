"""What share of the PAR a group of channels gives, from what hangs."""

import datetime as dt
import re
from collections.abc import Iterable

from django.core.exceptions import ValidationError

from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.tanks.models import Tank

# Between the names of a group of several channels: "blue, violet" or "blue + violet".
_BETWEEN = re.compile(r"[,;+&/]| and ")


def group_share(rows: Iterable[HungFixture], *, zone: str, group: str) -> float | None:
    """Return a group's share of the PAR of the HungFixtures of a zone, as they are set [1].

    A channel belongs to a group that names it, or a word of its name: "blue" is royal blue too.
    Fixtures weigh by their output where every one tells it, else alike. None where one that is
    lit has no known channels, or no channel belongs.
    """
    lit = [row for row in rows if row.zone == zone and row.light_percent > 0]
    if not lit or not all(row.channels for row in lit):
        return None
    stated = all(row.ppf_umol_s for row in lit)
    part = whole = 0.0
    has_channel = False
    for row in lit:
        output = row.level_percent * (row.ppf_umol_s if stated else 1.0)
        total = sum(channel["share_percent"] for channel in row.channels)
        for channel in row.channels:
            level = row.channel_levels.get(channel["name"], 100.0)
            light = output * level * channel["share_percent"] / total
            whole += light
            if belongs(channel["name"], group):
                has_channel = True
                part += light
    return part / whole if has_channel else None


def belongs(channel: str, group: str) -> bool:
    """Return whether one of a group's names is a channel's, or whole words of it."""
    words = f" {channel.strip().casefold()} "
    names = [name.strip().casefold() for name in _BETWEEN.split(group)]
    return any(f" {name} " in words for name in names if name)


def share_to_keep(
    tank: Tank, *, zone: str, group: str, share_percent: float | None, now: dt.datetime
) -> float | None:
    """Return the share of PAR that a day curve keeps [%], where its keeper entered one or None.

    None again is that of its channels, whenever it changes. Raises ValidationError where nothing
    that hangs tells it.
    """
    if share_percent is not None:
        return share_percent
    if not group:
        return 100.0
    if group_share(rig_in_force(tank, now), zone=zone, group=group) is None:
        raise ValidationError(
            {"share_percent": f"No lamp there has a channel “{group}”, so say its share of PAR."}
        )
    return None
