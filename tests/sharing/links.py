"""Links as an owner makes them, with the token that only their maker ever sees."""

import datetime as dt

from django.utils import timezone

from apps.sharing.models import PlanLink, ShareLink


def make_link(tank, **fields):
    """Return a link to a tank's light map, and its token."""
    return made(ShareLink, tank=tank, **fields)


def make_plan_link(plan, **fields):
    """Return a link to a plan, and its token."""
    return made(PlanLink, plan=plan, **fields)


def made(model, **fields):
    link = model(**({"expires_at": timezone.now() + dt.timedelta(days=7)} | fields))
    token = link.renew_token()
    link.save()
    return link, token
