"""How far a new tank's corals are placed and watched."""

from django.urls import reverse

from apps.corals.models import HealthNote, Spot
from apps.tanks.beginning import Stage


def coral_stages(tank, now):
    """Return the Stages a tank's corals know."""
    corals = tank.corals.present()
    living = corals.filter(gone_on=None)
    return [
        Stage(
            "place",
            "Place the corals",
            "Where each one sits; the map shows whether its light is right.",
            reverse("coral_list" if living else "coral_new", args=[tank.pk]),
            is_done=Spot.objects.filter(coral__in=corals).exists(),
        ),
        Stage(
            "watch",
            "Watch them",
            "Note how each looks every week or two, so you can tell later whether it is the light.",
            reverse("coral_round" if living else "coral_list", args=[tank.pk]),
            is_done=HealthNote.objects.present().filter(coral__in=corals).exists(),
        ),
    ]
