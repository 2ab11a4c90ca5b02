"""Which spots of a tank to read now that its light changed, for its page and its light log."""

import datetime as dt
from collections.abc import Iterator

from django.urls import reverse

from apps.common.pages_above import page_above
from apps.lighting.change.effect import CheckOffer
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
            is_due=True,
            action=(proposal.button, reverse("check_new", args=[tank.pk])),
        )
    ]


def check_offers(tank: Tank, now: dt.datetime) -> Iterator[CheckOffer]:
    """Yield the CheckOffer of a tank's light log; none where there is nothing to check."""
    proposal = check_proposal(tank, now)
    if proposal is not None:
        url = reverse("check_new", args=[tank.pk])
        yield CheckOffer(proposal.sentence, proposal.button, url)
