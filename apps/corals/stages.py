"""How far a new tank's corals are placed and watched."""

from django.db.models import Exists, OuterRef
from django.urls import reverse

from apps.corals.models import HealthNote, Spot
from apps.tanks.beginning import Stage


def coral_stages(tank, now):
    """Return the Stages a tank's corals know."""
    of_it = {"coral": OuterRef("pk")}
    facts = tank.corals.present().values_list(
        "gone_on",
        Exists(Spot.objects.filter(**of_it)),
        Exists(HealthNote.objects.present().filter(**of_it)),
    )
    gone, placed, noted = zip(*facts, strict=True) if facts else ((), (), ())
    living = None in gone
    return [
        Stage(
            "place",
            "Place the corals",
            "Where each one sits; the map shows whether its light is right.",
            reverse("coral_list" if living else "coral_new", args=[tank.pk]),
            is_done=any(placed),
        ),
        Stage(
            "watch",
            "Watch them",
            "Note how each looks every week or two, so you can tell later whether it is the light.",
            reverse("coral_round" if living else "coral_list", args=[tank.pk]),
            is_done=any(noted),
        ),
    ]
