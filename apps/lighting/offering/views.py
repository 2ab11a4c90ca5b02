"""The lamps that members offer to their club, each with a button to copy it."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from apps.accounts.models import User
from apps.clubs.access import readable_club
from apps.clubs.models import Club
from apps.clubs.parts import ClubLine, ClubPart
from apps.common.idempotency import once
from apps.lighting.models import Fixture, OfferedFixture
from apps.lighting.offering.offering import copy_offered, offer

# So many are named on the club's own page.
NAMED_MOST = 5


class OfferForm(forms.Form):
    """Which of a keeper's lamps the club may copy."""

    fixtures = forms.ModelMultipleChoiceField(
        Fixture.objects.none(),
        label="Yours that the club may copy",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["fixtures"].queryset = Fixture.objects.owned_by(user)


@login_required
@require_http_methods(["GET", "POST"])
def club_fixtures(request: HttpRequest, club_pk: int) -> HttpResponse:
    """List the lamps offered to a club, and take the word of a member on their own."""
    club, user = readable_club(request.user, club_pk), request.user
    offers = OfferedFixture.objects.seen_by(user, club)
    if request.method == "POST":
        form = OfferForm(request.POST, user=user)
        if form.is_valid():
            offer(club=club, user=user, fixtures=form.cleaned_data["fixtures"])
            messages.success(request, "Saved.")
            return redirect("club_fixtures", club.pk)
    else:
        mine = offers.filter(fixture__owner=user).values_list("fixture", flat=True)
        form = OfferForm(initial={"fixtures": list(mine)}, user=user)
    context = {
        "club": club,
        "offers": offers,
        "form": form,
        "has_own": Fixture.objects.owned_by(user).exists(),
    }
    status = 422 if form.errors else 200
    return render(request, "lighting/offering/club_fixtures.html", context, status=status)


@login_required
@require_POST
@once()
def club_fixture_copy(request: HttpRequest, club_pk: int, fixture_pk: int) -> HttpResponse:
    """Put a copy of an offered lamp into the member's own library."""
    club = readable_club(request.user, club_pk)
    offers = OfferedFixture.objects.seen_by(request.user, club)
    offered = get_object_or_404(offers, fixture=fixture_pk)
    copy = copy_offered(offered=offered, user=request.user)
    messages.success(request, f"{copy} is in your library.")
    return redirect("fixture_detail", copy.pk)


def fixtures_part(user: User, club: Club) -> list[ClubPart]:
    """Return the part of a club's page that names the first lamps offered to it."""
    at = reverse("club_fixtures", args=[club.pk])
    offers = OfferedFixture.objects.seen_by(user, club)
    lines = tuple(
        ClubLine(
            row.fixture.name,
            at,
            "yours" if row.fixture.owner_id == user.pk else str(row.fixture.owner),
        )
        for row in offers[:NAMED_MOST]
    )
    actions = (("Lamps to copy", at),)
    return [ClubPart("fixtures", "Lamps", lines, "Nobody offers a lamp to copy yet.", actions)]
