"""What a share link opens: the one way in without an account, read-only."""

import hashlib
from dataclasses import replace

from django.db import connection
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from apps.common.kept import kept
from apps.common.reading_once import reading_once
from apps.common.throttling import PHOTO
from apps.common.units import UNIT_CHOICES
from apps.corals.models import HealthNote, Photo
from apps.lightmap.page.drawn_page import with_planes
from apps.lightmap.page.map_page import LitPage, map_page
from apps.lightmap.page.picture import as_png, lightened, picture_of
from apps.lightmap.page.query import SIDE, MapQuery, unit_of
from apps.lightmap.page.views import light_map_response
from apps.lightmap.pins import pins_for
from apps.photics.ground.lengths import CM
from apps.sharing.commenting import comment_context, lettered
from apps.sharing.models import ShareLink
from apps.sharing.opening import opened_by_token, unlocking
from apps.tanks.kept_pages.pages import made_once

# What chats cut a preview to [pixels].
PREVIEW_SIZE = (1200, 630)
# Notes on one page; older ones are for those who keep the tank.
NOTES_SHOWN = 50
# So many stand open, the rest behind one line: the map is what the link is for.
NOTES_FIRST = 3
ONE_MORE = f"UPDATE {ShareLink._meta.db_table} SET openings = openings + 1 WHERE id = %s"
shared_unlock = unlocking(ShareLink, "shared_map")


@opened_by_token(ShareLink, PHOTO)
def shared_preview(request, link):
    """Hand out the picture that a chat shows beside the link."""
    page = map_page(link.tank, MapQuery(seen=SIDE), unit=CM, moment=link.moment())
    if not isinstance(page, LitPage):
        raise Http404
    # Chats keep pictures for others to see: no coral's name is in it.
    drawn = picture_of(with_planes(page, ()), size=PREVIEW_SIZE)
    key = hashlib.sha256(drawn.encode()).hexdigest()
    png = kept(f"preview-{key}", lambda: lightened(as_png(drawn, width_px=PREVIEW_SIZE[0])))
    return HttpResponse(png, content_type="image/png")


@opened_by_token(ShareLink)
@reading_once()
def shared_map(request, link):
    response = made_once(request, link.tank_id, lambda: map_response(request, link))
    count_opening(request, link)
    return response


def map_response(request, link, *, comment_form=None):
    """Return the page of a link, or the part of it that is redrawn."""
    tank = link.tank
    unit = unit_of(request.GET, getattr(request.user, "units", CM))
    query = MapQuery.read(request.GET, tank=tank, unit=unit)
    # Where to read next is the keepers' work.
    query = replace(query, next_count=None)
    comments = lettered(link)
    page = replace(map_page(tank, query, unit=unit, moment=link.moment()), marks=comments)
    page = with_planes(page, pins_for(tank, link.as_of) if link.show_corals else ())
    context = {
        "tank": tank,
        "link": link,
        "page": page,
        "unit": unit,
        "units": UNIT_CHOICES,
        "may_open": False,
        "may_write": False,
        "address_unit": unit,
        "address_extra": f"&unit={unit}",
    }
    if link.show_notes or link.show_photos:
        notes = shown_notes(link)
        context |= {"notes": notes[:NOTES_FIRST], "earlier_notes": notes[NOTES_FIRST:]}
    if page.light is not None:
        path = reverse("shared_preview", args=[request.resolver_match.kwargs["token"]])
        context["preview"] = request.build_absolute_uri(path)
    if link.may_comment:
        context |= comment_context(request, link, comments, comment_form, unit)
    response = light_map_response(request, "sharing/shared_map.html", context)
    if comment_form is not None:
        response.status_code = 422
    return response


def count_opening(request, link):
    """Count that the page was opened, nothing else; not what is fetched within it."""
    if request.method == "GET" and not request.htmx and not request.GET:
        with connection.cursor() as cursor:
            # By hand: to build this query takes longer than to run it, at each opening.
            cursor.execute(ONE_MORE, [link.pk])


def shown_notes(link):
    """Return the newest notes a link shows; without notes only those that have a photo."""
    notes = notes_of(link)
    if not link.show_notes:
        notes = notes.filter(photos__isnull=False).distinct()
    return list(notes.select_related("coral").prefetch_related("photos")[:NOTES_SHOWN])


def notes_of(link):
    """Return the tank's notes as of the day that a link shows."""
    notes = HealthNote.objects.present().filter(
        coral__tank=link.tank, coral__removed_at__isnull=True
    )
    return notes if link.as_of is None else notes.filter(noted_on__lte=link.as_of)


@opened_by_token(ShareLink, PHOTO)
def shared_photo(request, link, key, size="image"):
    """Hand out one photo of the tank's present notes, if the link shows photos."""
    if not link.show_photos:
        raise Http404
    photo = get_object_or_404(Photo, key=key, note__in=notes_of(link))
    try:
        opened = getattr(photo, size).open()
    except FileNotFoundError:
        raise Http404 from None
    return FileResponse(opened, content_type="image/jpeg")
