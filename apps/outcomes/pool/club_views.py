"""What a club's tanks say together, and a member's word which of theirs count in it."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from apps.accounts.models import User
from apps.clubs.access import readable_club
from apps.clubs.models import Club
from apps.clubs.parts import ClubLine, ClubPart
from apps.outcomes.models import PooledCurve
from apps.outcomes.pool.clubs import agree, tanks_counting, tanks_to_offer
from apps.outcomes.pool.views import RULES, questions
from apps.tanks.models import Tank


class CountingForm(forms.Form):
    """Which of a keeper's tanks count in a club."""

    tanks = forms.ModelMultipleChoiceField(
        Tank.objects.none(),
        label="Yours that count",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tanks"].queryset = tanks_to_offer(user)


@login_required
@require_http_methods(["GET", "POST"])
def club_outcomes(request: HttpRequest, club_pk: int) -> HttpResponse:
    """Show a club's curves, and take the word of a member on their own tanks."""
    club, user = readable_club(request.user, club_pk), request.user
    if request.method == "POST":
        form = CountingForm(request.POST, user=user)
        if form.is_valid():
            agree(club=club, user=user, tanks=form.cleaned_data["tanks"])
            messages.success(request, "Saved. The club’s sums are made anew each night.")
            return redirect("club_outcomes", club.pk)
    else:
        initial = {"tanks": tanks_counting(club=club, user=user)}
        form = CountingForm(initial=initial, user=user)
    context = {
        "club": club,
        "form": form,
        "may_count": tanks_to_offer(user).exists(),
        "own": Tank.objects.owned_by(user).first(),
        "questions": questions(PooledCurve.objects.filter(club=club)),
        "rules": RULES,
    }
    status = 422 if form.errors else 200
    return render(request, "outcomes/pool/club_outcomes.html", context, status=status)


def outcomes_part(user: User, club: Club) -> list[ClubPart]:
    """Return the part of a club's page that says how many tanks speak together."""
    at = reverse("club_outcomes", args=[club.pk])
    widest = PooledCurve.objects.filter(club=club, level="all").order_by("-n_keepers").first()
    lines = ()
    if widest is not None:
        words = f"{widest.n_tanks} tanks of {widest.n_keepers} keepers"
        lines = (ClubLine("Light and colour", at, words),)
    actions = (("Let a tank of yours count", at),)
    none_yet = "Too few tanks count so far to show anything without giving someone away."
    return [ClubPart("outcomes", "What the tanks show together", lines, none_yet, actions)]
