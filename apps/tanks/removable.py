"""What of a tank itself can be deleted and restored."""

from django.urls import reverse

from apps.tanks.deleted import contents_of
from apps.tanks.models import Rock, Tank
from apps.tanks.removable_kinds import RemovableKind


def tank_question(tank: Tank) -> tuple[str, dict[str, object]]:
    """Return the page that asks before a tank goes, with what goes along."""
    return "tanks/tank_remove.html", {"tank": tank, "contents": contents_of(tank)}


TANK = RemovableKind(
    key="tank",
    model=Tank,
    noun="tank",
    plural="tanks",
    owner="owner",
    words=lambda tank: tank.name,
    page=lambda tank: reverse("tank_detail", args=[tank.pk]),
    at="tanks/<int:tank_pk>/",
    name="tank",
    left=lambda tank: reverse("tank_list"),
    question=tank_question,
    shown_to=Tank.objects.visible_to,
)
ROCK = RemovableKind(
    key="rock",
    model=Rock,
    noun="rock",
    plural="rocks",
    tank="tank",
    words=lambda rock: rock.name or "rock without a name",
    page=lambda rock: reverse("tank_settings", args=[rock.tank_id]),
    at="tanks/<int:tank_pk>/rocks/<int:rock_pk>/",
    name="rock",
    lookups={"tank_pk": "tank"},
    called=lambda rock: f"the rock {rock.name}".strip(),
)
KINDS = (
    TANK,
    ROCK,
)


def kinds() -> tuple[RemovableKind, ...]:
    """Return the kinds that this app adds to the list of what can be deleted."""
    return KINDS
