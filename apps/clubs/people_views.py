"""The people of a club: roles, removing, blocking, leaving."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from apps.accounts.models import User
from apps.clubs.access import officers_club, readable_club
from apps.clubs.forms import RoleForm, SuccessorForm
from apps.clubs.leaving import (
    block,
    close,
    going_along,
    is_last_officer,
    leave,
    others_in,
    set_role,
)
from apps.clubs.models import Club, Membership


@login_required
@require_http_methods(["GET", "POST"])
def club_member_edit(request: HttpRequest, club_pk: int, membership_pk: int) -> HttpResponse:
    """Give a member a role, or see how to remove or block them."""
    club = officers_club(request.user, club_pk)
    membership = get_object_or_404(club.memberships.select_related("user"), pk=membership_pk)
    form = RoleForm(request.POST or None, initial={"role": membership.role})
    if request.method == "POST" and form.is_valid():
        try:
            set_role(membership=membership, role=form.cleaned_data["role"])
        except ValidationError as problem:
            form.add_error(None, problem)
        else:
            messages.success(request, "Saved.")
            return redirect("club_detail", club.pk)
    context = {"club": club, "membership": membership, "form": form}
    context["going_along"] = list(going_along(membership.user, club))
    status = 422 if form.errors else 200
    return render(request, "clubs/club_member_edit.html", context, status=status)


def other_member(request: HttpRequest, club: Club, pk: int) -> User:
    """Return a member whom an officer may put out: everyone but themselves."""
    return get_object_or_404(others_in(club, request.user), pk=pk).user


@login_required
@require_POST
def club_member_remove(request: HttpRequest, club_pk: int, membership_pk: int) -> HttpResponse:
    club = officers_club(request.user, club_pk)
    user = other_member(request, club, membership_pk)
    leave(club=club, user=user)
    messages.success(request, f"{user} is not in {club} any more. A link lets them in again.")
    return redirect("club_detail", club.pk)


@login_required
@require_POST
def club_member_block(request: HttpRequest, club_pk: int, membership_pk: int) -> HttpResponse:
    club = officers_club(request.user, club_pk)
    user = other_member(request, club, membership_pk)
    block(club=club, user=user)
    messages.success(request, f"{user} is blocked: no link of {club} lets them in.")
    return redirect("club_detail", club.pk)


@login_required
@require_POST
def club_unblock(request: HttpRequest, club_pk: int, block_pk: int) -> HttpResponse:
    club = officers_club(request.user, club_pk)
    row = get_object_or_404(club.blocks.select_related("user"), pk=block_pk)
    row.delete()
    messages.success(request, f"{row.user} is not blocked any more. A link lets them in again.")
    return redirect("club_detail", club.pk)


@login_required
@require_http_methods(["GET", "POST"])
def club_leave(request: HttpRequest, club_pk: int) -> HttpResponse:
    """Ask, then leave; a last officer names another, or closes the club."""
    club, user = readable_club(request.user, club_pk), request.user
    is_last = is_last_officer(user, club)
    others = list(others_in(club, user)) if is_last else []
    if request.method == "POST" and is_last and ("close" in request.POST or not others):
        return close_and_say(request, club)
    sent = request.POST if request.method == "POST" else None
    form = SuccessorForm(sent, club=club, user=user) if others else None
    if request.method == "POST" and (form is None or form.is_valid()):
        leave(club=club, user=user, successor=chosen_in(form))
        messages.success(request, f"You left {club}.")
        return redirect("club_list")
    context = {"club": club, "is_last": is_last, "form": form}
    context["going_along"] = list(going_along(user, club))
    status = 422 if form and form.errors else 200
    return render(request, "clubs/club_leave.html", context, status=status)


def chosen_in(form: SuccessorForm | None) -> Membership | None:
    return form.cleaned_data["successor"] if form else None


def close_and_say(request: HttpRequest, club: Club) -> HttpResponse:
    close(club=club, by=request.user)
    messages.success(request, f"{club} is closed.")
    return redirect("club_list")
