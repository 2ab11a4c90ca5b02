"""What hangs above a tank: the rows in force at a moment, and where they lie seen from above."""

import datetime as dt
from collections.abc import Iterable

from apps.lighting.models import HungFixture, LightChange, Zone
from apps.photics.optics.lit_face import face_corners_cm
from apps.tanks.models import Tank
from apps.tanks.plan import Overhead


def rig_in_force(
    tank: Tank, moment: dt.datetime, *, without: LightChange | None = None
) -> list[HungFixture]:
    """Return the HungFixtures over a tank at a moment; [] before anyone described them.

    `without` is a change to pass over, such as the one being edited.
    """
    # Only the change that describes it is read, however long the log is.
    changes = tank.light_changes.present().filter(tells_rig=True, happened_at__lte=moment)
    if without is not None:
        changes = changes.exclude(pk=without.pk)
    latest = changes.order_by("-happened_at", "-pk").first()
    return [] if latest is None else list(latest.hung.all())


def rig_stated(changes: Iterable[LightChange], moment: dt.datetime) -> list[HungFixture] | None:
    """Return the HungFixtures that LightChanges, newest first, say for a moment.

    [] where they say that nothing hangs, None where they say nothing of it.
    """
    rigs = (list(c.hung.all()) for c in changes if c.tells_rig and c.happened_at <= moment)
    return next(rigs, None)


def overhead(tank: Tank, moment: dt.datetime) -> list[Overhead]:
    """Return what the tank's plan draws of the rig in force at a moment."""
    return [
        Overhead(hung.scene().name, tuple(face_corners_cm(hung.scene())))
        for hung in rig_in_force(tank, moment)
        if hung.zone == Zone.DISPLAY
    ]
