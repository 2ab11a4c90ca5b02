"""A saved what-if over a tank that has a light map."""

import datetime as dt

from django.utils import timezone

from apps.lighting.change.address import typed_of
from apps.planning.models import Plan
from apps.planning.what_if.live_light import live_light
from tests.factories import make_lit_survey, make_plan


def make_what_if(owner, tank, *, depth_cm=20.0, **settings):
    """Survey the tank and keep a plan that hangs its first fixture by other settings."""
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    rows = [typed_of(row) for row in live_light(tank, timezone.now()).rows]
    rows[0] |= settings
    asked = {"version": 1, "depth_cm": depth_cm, "rows": rows}
    return make_plan(owner, tank, kind=Plan.Kind.WHAT_IF, name="Higher", asked=asked)
