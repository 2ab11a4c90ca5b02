"""Which spots of a tank to read now that its light changed, as a line of its page."""

import datetime as dt

from django.urls import reverse

from apps.common.pages_above import page_above
from apps.lightmap.check.check_readings import check_proposal
from apps.tanks.models import Tank
from apps.tanks.overview import Line


def check_lines(tank: Tank, now: dt.datetime) -> list[Line]:
    """Return the Line of a tank's check readings; none where there is nothing to check."""
    proposal = check_proposal(tank, now)
    if proposal is None:
        return []
    return [
        Line(
            "check",
            "Check the light",
            page_above("light_change_effect", proposal.changes[-1].pk),
            words=proposal.sentence,
            spots=tuple((p.x_cm, p.y_cm, p.depth_cm) for p in proposal.places),
            more=(proposal.when,),
            is_due=True,
            action=(proposal.button, reverse("check_new", args=[tank.pk])),
        )
    ]
