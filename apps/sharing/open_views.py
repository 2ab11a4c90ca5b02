"""What a share link opens: the one way in without an account, read-only."""

from dataclasses import replace
from functools import wraps

from django.http import FileResponse, Http404
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from apps.common.throttling import PAGE, PHOTO, mark_wrong, paced
from apps.common.units import UNIT_CHOICES
from apps.corals.models import HealthNote, Photo
from apps.lightmap.page.map_page import map_page, with_planes
from apps.lightmap.page.query import MapQuery, unit_of
from apps.lightmap.page.views import light_map_response
from apps.lightmap.pins import pins_for
from apps.photics.ground.lengths import CM
from apps.sharing.models import ShareLink

# Notes on one page; older ones are for those who keep the tank.
NOTES_SHOWN = 50
# So many stand open, the rest behind one line: the map is what the link is for.
NOTES_FIRST = 6
PRIVACY_HEADERS = {
    "X-Robots-Tag": "noindex, nofollow",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "private, no-store",
}


def opened_by_token(links, pace=PAGE):
    """Call view(request, link, ...) for a token that opens; any other meets one same page."""

    def guard(view):
        @wraps(view)
        @require_safe
        @paced(pace)
        def checked(request, token, **kwargs):
            link = links.objects.for_token(token)
            try:
                if link is None:
                    raise Http404
                response = view(request, link, **kwargs)
            except Http404:
                response = render(request, "sharing/shared_closed.html", status=404)
                # Django logs the path of a 404, and this path holds the token.
                response._has_been_logged = True
            if link is None:
                mark_wrong(response)
            for name, value in PRIVACY_HEADERS.items():
                response[name] = value
            return response

        return checked

    return guard


@opened_by_token(ShareLink)
def shared_map(request, link):
    tank = link.tank
    unit = unit_of(request.GET, getattr(request.user, "units", CM))
    query = MapQuery.read(request.GET, tank=tank, unit=unit)
    # Where to read next is the keepers' work.
    query = replace(query, next_count=None)
    pins = pins_for(tank) if link.show_corals else ()
    page = with_planes(map_page(tank, query, unit=unit), pins)
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
    return light_map_response(request, "sharing/shared_map.html", context)


def shown_notes(link):
    """Return the newest notes a link shows; without notes only those that have a photo."""
    notes = HealthNote.objects.present().filter(
        coral__tank=link.tank, coral__removed_at__isnull=True
    )
    if not link.show_notes:
        notes = notes.filter(photos__isnull=False).distinct()
    return list(notes.select_related("coral").prefetch_related("photos")[:NOTES_SHOWN])


@opened_by_token(ShareLink, PHOTO)
def shared_photo(request, link, key, size="image"):
    """Hand out one photo of the tank's present notes, if the link shows photos."""
    if not link.show_photos:
        raise Http404
    photo = get_object_or_404(
        Photo,
        key=key,
        note__removed_at__isnull=True,
        note__coral__removed_at__isnull=True,
        note__coral__tank=link.tank,
    )
    try:
        opened = getattr(photo, size).open()
    except FileNotFoundError:
        raise Http404 from None
    return FileResponse(opened, content_type="image/jpeg")
