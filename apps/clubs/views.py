"""The clubs a keeper is in, and one club."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from apps.clubs.access import is_officer, officers_club, readable_club
from apps.clubs.forms import ClubForm
from apps.clubs.joining import make_club
from apps.clubs.models import Club
from apps.clubs.parts import PARTS
from apps.common.idempotency import once


@login_required
@require_GET
def club_list(request: HttpRequest) -> HttpResponse:
    clubs = list(Club.objects.visible_to(request.user))
    led = set(Club.objects.led_by(request.user).values_list("pk", flat=True))
    context = {"clubs": [(club, club.pk in led) for club in clubs]}
    return render(request, "clubs/club_list.html", context)


@login_required
@require_http_methods(["GET", "POST"])
@once()
def club_new(request: HttpRequest) -> HttpResponse:
    form = ClubForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        club = make_club(club=form.instance, by=request.user)
        messages.success(request, f"{club} is made, and you are its officer. Invite your members.")
        return redirect("club_detail", club.pk)
    status = 422 if form.errors else 200
    return render(request, "clubs/club_new.html", {"form": form}, status=status)


@login_required
@require_GET
def club_detail(request: HttpRequest, club_pk: int) -> HttpResponse:
    """Show what the club shares and who belongs to it."""
    club = readable_club(request.user, club_pk)
    leads = is_officer(request.user, club)
    context = {
        "club": club,
        "leads": leads,
        "parts": PARTS.collect(request.user, club),
        "memberships": club.memberships.select_related("user"),
        "blocks": club.blocks.select_related("user") if leads else (),
    }
    return render(request, "clubs/club_detail.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def club_edit(request: HttpRequest, club_pk: int) -> HttpResponse:
    club = officers_club(request.user, club_pk)
    # The form writes what was typed into its own row; the page around it shows what is stored.
    form = ClubForm(request.POST or None, instance=Club.objects.get(pk=club.pk))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("club_detail", club.pk)
    context = {"club": club, "form": form}
    return render(request, "clubs/club_edit.html", context, status=422 if form.errors else 200)
