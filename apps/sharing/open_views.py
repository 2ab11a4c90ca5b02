"""What a share link opens: the one way in without an account, read-only."""

from dataclasses import replace
from functools import wraps

from django.db.models import F
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from apps.common.throttling import PAGE, PASSPHRASE, PHOTO, mark_wrong, paced
from apps.common.units import UNIT_CHOICES
from apps.corals.models import HealthNote, Photo
from apps.lightmap.page.drawn_page import with_planes
from apps.lightmap.page.map_page import map_page
from apps.lightmap.page.query import MapQuery, unit_of
from apps.lightmap.page.views import light_map_response
from apps.lightmap.pins import pins_for
from apps.photics.ground.lengths import CM
from apps.sharing.models import ShareLink
from apps.sharing.passphrase import is_right, is_unlocked, remember
from apps.sharing.preview import preview_png

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
                if isinstance(link, ShareLink) and not is_unlocked(request, link):
                    response = locked(request, token)
                else:
                    response = view(request, link, **kwargs)
            except Http404:
                response = render(request, "sharing/shared_closed.html", status=404)
                # Django logs the path of a 404, and this path holds the token.
                response._has_been_logged = True
            if link is None:
                mark_wrong(response)
            return private(request, response)

        return checked

    return guard


def private(request, response):
    """Return an answer to a secret address: kept nowhere, and without a cookie of its own."""
    for name, value in PRIVACY_HEADERS.items():
        response[name] = value
    # Every page of ours carries a mark for forms; here is none that a visitor could send with it.
    request.META.pop("CSRF_COOKIE_NEEDS_UPDATE", None)
    return response


def locked(request, token, *, was_wrong=False):
    """Return the page that asks for a link's passphrase and says nothing of what it opens."""
    context = {"token": token, "was_wrong": was_wrong}
    response = render(request, "sharing/shared_locked.html", context, status=403)
    # Django logs the path of a 403, and this path holds the token.
    response._has_been_logged = True
    return response


# The address is the secret that a foreign page would have to know: no mark, and so no cookie.
@csrf_exempt
@require_POST
@paced(PASSPHRASE)
def shared_unlock(request, token):
    link = ShareLink.objects.for_token(token)
    if link is None:
        response = render(request, "sharing/shared_closed.html", status=404)
        return private(request, mark_wrong(response))
    if not is_right(link, request.POST.get("passphrase", "")):
        return private(request, locked(request, token, was_wrong=True))
    response = redirect("shared_map", token)
    remember(response, link, token)
    return private(request, response)


@opened_by_token(ShareLink, PHOTO)
def shared_preview(request, link):
    """Hand out the picture that a chat shows beside the link."""
    png = preview_png(link.tank)
    if png is None:
        raise Http404
    return HttpResponse(png, content_type="image/png")


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
    if page.light is not None:
        path = reverse("shared_preview", args=[request.resolver_match.kwargs["token"]])
        context["preview"] = request.build_absolute_uri(path)
    count_opening(request, link)
    return light_map_response(request, "sharing/shared_map.html", context)


def count_opening(request, link):
    """Count that the page was opened, nothing else; not what is fetched within it."""
    if request.method == "GET" and not request.htmx and not request.GET:
        ShareLink.objects.filter(pk=link.pk).update(openings=F("openings") + 1)


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
