"""The tank wall."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render
from django.utils import timezone

from apps.corals.photos.gallery import BY_LIGHT, RANKS, order_words, wall
from apps.corals.status import coral_statuses, shared_survey_words
from apps.lightmap.lightmap import tank_light
from apps.tanks.access import may_write, readable_tank


@login_required
def coral_wall(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    by = request.GET.get("by", "")
    by = by if by in RANKS else BY_LIGHT
    result = coral_statuses(tank, tank_light(tank), timezone.now())
    living = [status for status in result if status.coral.gone_on is None]
    tiles = wall(living, by=by)
    has_colours = any(tile.colour for tile in tiles)
    rests_on = shared_survey_words(living, tank.zone)
    context = {
        "tank": tank,
        "by": by,
        "tiles": tiles,
        "has_colours": has_colours,
        "order": order_words(by, has_colours=has_colours, rests_on=rests_on),
        "may_write": may_write(request.user, tank),
    }
    return render(request, "corals/photos/coral_wall.html", context)
