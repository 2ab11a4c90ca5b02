"""Which clubs see a tank, and which tanks of a keeper a club sees."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from apps.clubs.access import readable_club
from apps.clubs.models import Club
from apps.tanks.access import owned_tank
from apps.tanks.models import Tank
from apps.tanks.showing.forms import CHOICES, ShowForm
from apps.tanks.showing.showing import clubs_with_sight, show, shown_of


@login_required
@require_GET
def tank_clubs(request: HttpRequest, tank_pk: int) -> HttpResponse:
    """Say for each club of the owner what it sees of the tank, with the switch beside it."""
    tank = owned_tank(request.user, tank_pk)
    rows = [(club, switch(club.sees, club)) for club in clubs_with_sight(tank, request.user)]
    return render(request, "tanks/showing/tank_clubs.html", {"tank": tank, "rows": rows})


def switch(what: str, club: Club) -> ShowForm:
    return ShowForm(initial={"what": what}, auto_id=f"club-{club.pk}-%s")


@login_required
@require_POST
def tank_show(request: HttpRequest, tank_pk: int, club_pk: int) -> HttpResponse:
    tank, club = owned_tank(request.user, tank_pk), readable_club(request.user, club_pk)
    form = ShowForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose what the club may see.")
    else:
        what = form.cleaned_data["what"]
        show(tank=tank, club=club, what=what)
        messages.success(request, f"{club} now sees {dict(CHOICES)[what]} of {tank}.")
    return redirect("tank_clubs", tank.pk)


@login_required
@require_GET
def club_own_tanks(request: HttpRequest, club_pk: int) -> HttpResponse:
    """List the keeper's own tanks and what a club sees of each."""
    club = readable_club(request.user, club_pk)
    words = dict(CHOICES)
    tanks = [(tank, words[shown_of(tank, club)]) for tank in Tank.objects.owned_by(request.user)]
    return render(request, "tanks/showing/club_own_tanks.html", {"club": club, "tanks": tanks})
