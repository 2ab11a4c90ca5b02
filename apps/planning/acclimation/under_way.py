"""The acclimations of a tank that have not arrived, for pages of apps that do not know plans."""

import datetime as dt
from collections.abc import Iterator

from django.urls import reverse

from apps.corals.coral.light_plans import LightPlan
from apps.lighting.rig import rig_in_force
from apps.planning.acclimation.acclimating import following_of, notes_by_plan
from apps.planning.acclimation.following import ARRIVED, STALE
from apps.planning.models import Acclimation
from apps.tanks.models import Tank


def light_plans(tank: Tank, now: dt.datetime) -> Iterator[LightPlan]:
    """Yield the LightPlan of each acclimation of a tank whose steps still hold."""
    plans = Acclimation.objects.present().filter(tank=tank, coral__removed_at=None).with_all()
    plans = list(plans)
    notes = notes_by_plan(plans)
    rows = rig_in_force(tank, now) if plans else []
    for plan in plans:
        following = following_of(plan, notes[plan.pk], rows)
        if following.state in (ARRIVED, STALE):
            continue
        yield LightPlan(
            None if plan.whole_tank else plan.coral_id,
            "the whole tank’s acclimation" if plan.whole_tank else "its acclimation",
            reverse("acclimation_detail", args=[plan.pk]),
        )
