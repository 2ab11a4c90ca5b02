"""An officer hands a survey over; a member takes it into a tank of theirs."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from apps.accounts.models import User
from apps.clubs.access import readable_club
from apps.clubs.models import Club, Membership
from apps.clubs.parts import ClubLine, ClubPart
from apps.common.idempotency import once
from apps.surveys.access import writable_survey
from apps.surveys.handing.handing import members_to_hand_to, offer_survey, take_survey
from apps.surveys.models import SurveyOffer
from apps.tanks.models import Tank


class MemberField(forms.ModelChoiceField):
    def label_from_instance(self, obj: Membership) -> str:
        return f"{obj.user}, {obj.club}"


class HandForm(forms.Form):
    """To whom of an officer's clubs a survey is handed."""

    to = MemberField(Membership.objects.none(), label="Hand it to", empty_label=None)

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].queryset = members_to_hand_to(user)


class TakeForm(forms.Form):
    """Into which of a member's tanks it is taken."""

    tank = forms.ModelChoiceField(Tank.objects.none(), label="Your tank", empty_label=None)

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tank"].queryset = Tank.objects.changeable_by(user).filter(ended_on=None)


@login_required
@require_http_methods(["GET", "POST"])
def survey_hand(request: HttpRequest, survey_pk: int) -> HttpResponse:
    """Offer a survey to a member of a club the keeper looks after."""
    survey = writable_survey(request.user, survey_pk)
    form = HandForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        offer = offer_survey(survey=survey, to=form.cleaned_data["to"], by=request.user)
        messages.success(request, f"{offer.to} can take it now, on the page of {offer.club}.")
        return redirect("survey_detail", survey.pk)
    context = {
        "survey": survey,
        "tank": survey.tank,
        "form": form,
        "may_hand": members_to_hand_to(request.user).exists(),
        "offers": survey.offers.select_related("to"),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "surveys/handing/survey_hand.html", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
@once()
def club_survey_take(request: HttpRequest, club_pk: int, offer_pk: int) -> HttpResponse:
    """Show what is offered to the member; take it into a tank of theirs, or decline."""
    club, user = readable_club(request.user, club_pk), request.user
    offers = SurveyOffer.objects.waiting_for(user).filter(club=club)
    offer = get_object_or_404(offers, pk=offer_pk)
    if "decline" in request.POST:
        offer.delete()
        messages.success(request, "Declined. Nothing of it came into your tanks.")
        return redirect("club_detail", club.pk)
    form = TakeForm(request.POST or None, user=user)
    if request.method == "POST" and form.is_valid():
        try:
            survey = take_survey(offer=offer, tank=form.cleaned_data["tank"], by=user)
        except ValidationError as problem:
            form.add_error("tank", problem.messages[0])
        else:
            messages.success(request, f"It is a survey of {survey.tank} now.")
            return redirect("survey_detail", survey.pk)
    context = {
        "club": club,
        "offer": offer,
        "survey": offer.survey,
        "count": offer.survey.readings.count(),
        "form": form,
        "has_tank": form.fields["tank"].queryset.exists(),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "surveys/handing/club_survey_take.html", context, status=status)


def surveys_part(user: User, club: Club) -> list[ClubPart]:
    """Return the part of a club's page with surveys that wait for the member; none without any."""
    offers = SurveyOffer.objects.waiting_for(user).filter(club=club)
    lines = tuple(
        ClubLine(
            str(offer.survey),
            reverse("club_survey_take", args=[club.pk, offer.pk]),
            f"from {offer.offered_by}",
        )
        for offer in offers
    )
    return [ClubPart("surveys", "Surveys for you", lines, "")] if lines else []
