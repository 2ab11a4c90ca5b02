"""Inviting to a club: an officer makes a link, and who opens it may join."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.clubs.access import officers_club
from apps.clubs.forms import ClubLinkForm
from apps.clubs.joining import is_blocked, join
from apps.clubs.models import ClubLink
from apps.common.links.qr_code import qr_svg
from apps.common.links.shown_once import render_once
from apps.common.throttling import PAGE, mark_wrong, paced

LIST = "clubs/club_link_list.html"


@login_required
@require_GET
def club_link_list(request: HttpRequest, club_pk: int) -> HttpResponse:
    club = officers_club(request.user, club_pk)
    context = {"club": club, "links": club.links.all(), "form": ClubLinkForm()}
    return render(request, LIST, context)


@login_required
@require_POST
def club_link_new(request: HttpRequest, club_pk: int) -> HttpResponse:
    """Make a link and show its address: in this one answer and never again."""
    club = officers_club(request.user, club_pk)
    link = ClubLink(club=club, created_by=request.user)
    token = link.renew_token()
    form = ClubLinkForm(request.POST, instance=link)
    context = {"club": club, "links": club.links.all(), "form": form}
    if not form.is_valid():
        return render(request, LIST, context, status=422)
    form.save()
    address = request.build_absolute_uri(reverse("club_join", args=[token]))
    return render_once(request, LIST, context | {"address": address, "qr": qr_svg(address)})


@login_required
@require_POST
def club_link_revoke(request: HttpRequest, club_pk: int, link_pk: int) -> HttpResponse:
    club = officers_club(request.user, club_pk)
    link = get_object_or_404(club.links, pk=link_pk)
    link.revoke()
    messages.success(request, f"“{link}” lets nobody in any more.")
    return redirect("club_link_list", club.pk)


@require_http_methods(["GET", "POST"])
@never_cache
@paced(PAGE)
def club_join(request: HttpRequest, token: str) -> HttpResponse:
    """The invited one's page: look at which club it is, then join.

    A blocked keeper is answered as if there were no such link.
    """
    link = ClubLink.objects.for_token(token)
    if link is None or is_blocked(request.user, link.club):
        return mark_wrong(render(request, "clubs/club_link_gone.html", status=404))
    if request.method == "GET":
        is_in = link.club.memberships.filter(user_id=request.user.pk).exists()
        context = {"club": link.club, "invited_by": link.created_by, "is_in": is_in}
        return render(request, "clubs/club_join.html", context)
    if not request.user.is_authenticated:
        return redirect_to_login(request.path)
    club = join(link=link, user=request.user)
    if club is None:
        return mark_wrong(render(request, "clubs/club_link_gone.html", status=404))
    messages.success(request, f"You joined {club}.")
    return redirect("club_detail", club.pk)
