"""How far a new tank's lamps and day are entered in the light log."""

from django.urls import reverse

from apps.lighting.history import light_history
from apps.tanks.beginning import Stage


def light_stages(tank, now):
    """Return the Stages a tank's light log knows."""
    history = light_history(tank)
    return [
        Stage(
            "hang",
            "Add your lights",
            "With the lamps' places the map needs fewer readings, and can follow each change.",
            reverse("light_change_new", args=[tank.pk]),
            is_done=history.lamps_at(now) is not None,
        ),
        Stage(
            "schedule",
            "Set the hours of light",
            "Hours in the light log do; a drawn day has clock times too. Then DLI is known.",
            reverse("day_curve_list", args=[tank.pk]),
            is_done=history.schedule_at(now) is not None,
        ),
    ]
