"""What of a tank itself can be deleted and restored."""

from django.urls import reverse

from apps.tanks.models import Rock, Tank
from apps.tanks.removable_kinds import RemovableKind

KINDS = (
    RemovableKind(
        key="tank",
        model=Tank,
        noun="tank",
        plural="tanks",
        owner="owner",
        words=lambda tank: tank.name,
        page=lambda tank: reverse("tank_detail", args=[tank.pk]),
    ),
    RemovableKind(
        key="rock",
        model=Rock,
        noun="rock",
        plural="rocks",
        tank="tank",
        words=lambda rock: rock.name or "rock without a name",
        page=lambda rock: reverse("tank_detail", args=[rock.tank_id]),
    ),
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
