"""A mix and the tanks its fixture hangs over: from the levels there, and back as a light change."""

import copy
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from apps.lighting.hanging import hangings
from apps.lighting.light_change_address import light_change_address
from apps.lighting.models import LightChange
from apps.lighting.rig import rig_in_force
from apps.tanks.models import Tank

# Levels nearer than this to full are full [%]: a slider shows tenths.
FULL_FROM_PERCENT = 99.95


@dataclass(frozen=True)
class MixOver:
    """One tank: its name, the addresses of a change with the mix and of the mix that hangs now."""

    tank: str
    change_url: str
    start_url: str


def mixes_over(user, fixture, levels, *, now):
    """Return the MixOvers of the tanks a keeper may change where a fixture hangs now.

    levels: the mix, one a channel [%].
    """
    names = [row["name"] for row in fixture.channels]
    mixed = {
        name: round(level, 1)
        for name, level in zip(names, levels, strict=True)
        if level < FULL_FROM_PERCENT
    }
    pks = hangings(fixture, user).values("change__tank")
    found = []
    for tank in Tank.objects.changeable_by(user).filter(pk__in=pks):
        rows = rig_in_force(tank, now)
        # Hung before its channels were told as they are now, it can't take their levels.
        own = [row for row in rows if takes_mix(row, fixture, names)]
        if own:
            change = change_url(tank, [with_mix(row, own, mixed) for row in rows], mixed, user)
            found.append(MixOver(tank.name, change, start_url(fixture, names, own[0])))
    return tuple(found)


def takes_mix(row, fixture, names):
    return row.fixture_id == fixture.pk and [c["name"] for c in row.channels] == names


def with_mix(row, own, mixed):
    """Return the row, a copy with the levels of the mix where it is one of the fixture's."""
    if row not in own:
        return row
    row = copy.copy(row)
    row.channel_levels = mixed
    return row


def change_url(tank, rows, mixed, user):
    told = (
        ", ".join(f"{name} {level:.3g} %" for name, level in mixed.items()) or "all channels full"
    )
    return light_change_address(
        tank.pk, rows, summary=f"Mix: {told}", reason=LightChange.Reason.LEVEL, unit=user.units
    )


def start_url(fixture, names, row):
    """Return the address of the mix that begins from the levels a row hangs at."""
    levels = {f"level{i}": row.channel_levels.get(name, 100) for i, name in enumerate(names)}
    return f"{reverse('fixture_mix', args=[fixture.pk])}?{urlencode(levels | {'fresh': 1})}"
