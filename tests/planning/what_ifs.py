"""A saved what-if over a tank that has a light map."""

import datetime as dt
import html
import re

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


def fields_of(response):
    """Return the fields a page's forms would send untouched, by name."""
    page, fields = response.content.decode(), {}
    for tag in re.findall(r"<input[^>]*>", page):
        name, value = (re.search(rf'{key}="([^"]*)"', tag) for key in ("name", "value"))
        if name and ("checkbox" not in tag or " checked" in tag):
            fields[name[1]] = html.unescape(value[1]) if value else ""
    for name, inside in re.findall(r'<select name="([^"]*)"[^>]*>(.*?)</select>', page, re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', inside)
        fields[name] = chosen[1] if chosen else ""
    return fields
