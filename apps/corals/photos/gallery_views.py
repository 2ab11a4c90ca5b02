"""The tank wall, and the gallery of all corals by week."""

import datetime as dt

from django import forms
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.shortcuts import render
from django.utils import timezone

from apps.corals.forms import day_input
from apps.corals.photos.gallery import BY_LIGHT, RANKS, order_words, wall
from apps.corals.photos.weeks import BY_NAME, BY_WORRY, gallery, pairs
from apps.corals.status import coral_statuses, shared_survey_words
from apps.lightmap.lightmap import tank_light
from apps.tanks.access import may_write, readable_tank
from apps.tanks.kept_pages.pages import kept_page

# Corals a page shows; a large tank has hundreds.
CORALS_A_PAGE = 24
# Corals without a photo that stand open where none has one; beside photos all of them fold.
UNSEEN_AT_FIRST = 6


@login_required
def coral_wall(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    by = request.GET.get("by", "")
    by = by if by in RANKS else BY_LIGHT
    result = coral_statuses(tank, tank_light(tank), timezone.now())
    living = [status for status in result if status.coral.gone_on is None]
    tiles = wall(living, by=by)
    seen = [tile for tile in tiles if tile.status.photo_key]
    unseen = [tile for tile in tiles if not tile.status.photo_key]
    first = 0 if seen else UNSEEN_AT_FIRST
    has_colours = any(tile.colour for tile in tiles)
    rests_on = shared_survey_words(living, tank.zone)
    context = {
        "tank": tank,
        "by": by,
        "page": Paginator(seen, CORALS_A_PAGE).get_page(request.GET.get("page")),
        "unseen": unseen,
        "unseen_first": unseen[:first],
        "unseen_more": unseen[first:],
        "has_colours": has_colours,
        "order": order_words(by, has_colours=has_colours, rests_on=rests_on),
        "may_write": may_write(request.user, tank),
    }
    return render(request, "corals/photos/coral_wall.html", context)


class TwoDatesForm(forms.Form):
    """Two dates to lay side by side."""

    first = forms.DateField(label="First date", widget=day_input())
    second = forms.DateField(label="Second date", widget=day_input())


@login_required
@kept_page(readable_tank)
def coral_gallery(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    by = BY_NAME if request.GET.get("by") == BY_NAME else BY_WORRY
    asks_two = "first" in request.GET or "second" in request.GET
    form = TwoDatesForm(request.GET if asks_two else None)
    is_pair = asks_two and form.is_valid()
    shown = None if is_pair else gallery(tank, until=until_of(request), by=by)
    rows = shown.filled if shown else ()
    context = {
        "tank": tank,
        "by": by,
        "form": form,
        "pairs": pairs(tank, *form.cleaned_data.values()) if is_pair else None,
        "shown": shown,
        "page": Paginator(rows, CORALS_A_PAGE).get_page(request.GET.get("page")),
        # Who turns to other weeks, or orders them, reads what notes say without a photo, too.
        "opens_notes": bool({"until", "by", "page"} & set(request.GET)),
        "may_write": may_write(request.user, tank),
    }
    status = 422 if form.errors else 200
    return render(request, "corals/photos/coral_gallery.html", context, status=status)


def until_of(request):
    """Return the date an address asks the weeks up to, None for none that can be read."""
    try:
        day = dt.date.fromisoformat(request.GET.get("until", ""))
    except ValueError:
        return None
    # Weeks before it are shown, and none before the calendar begins.
    return day if dt.date(1900, 1, 1) <= day <= dt.date(2200, 1, 1) else None
