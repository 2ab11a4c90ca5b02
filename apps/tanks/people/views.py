"""Who may see or change a tank: invitations, roles, leaving."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import ValidationError
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from apps.common.idempotency import once
from apps.common.throttling import PAGE, mark_wrong, paced
from apps.tanks.access import owned_tank, readable_tank
from apps.tanks.forms import HandOverForm, InvitationForm, MembershipForm
from apps.tanks.models import Invitation
from apps.tanks.people.joining import accept_invitation, invite

# The link waits here between the post and the page that shows it, once.
SHOWN_ONCE = "invitation_link"


@login_required
@require_http_methods(["GET", "POST"])
@once()
def invitation_new(request, tank_pk):
    tank = owned_tank(request.user, tank_pk)
    invitation = Invitation(tank=tank)
    token = invitation.renew_token()
    form = InvitationForm(request.POST or None, instance=invitation)
    if request.method == "POST" and form.is_valid() and invited(form):
        return link_to_show(request, invitation, token)
    context = {"tank": tank, "form": form}
    return render(request, "tanks/invitation_new.html", context, status=422 if form.errors else 200)


@login_required
@require_http_methods(["GET", "POST"])
@once()
def tank_hand_over(request, tank_pk):
    """Offer the tank to another owner, by a link that works once."""
    tank = owned_tank(request.user, tank_pk)
    invitation = Invitation(tank=tank, hands_over=True)
    token = invitation.renew_token()
    form = HandOverForm(request.POST or None, instance=invitation)
    if request.method == "POST" and form.is_valid() and invited(form):
        return link_to_show(request, invitation, token)
    context = {"tank": tank, "form": form}
    return render(request, "tanks/tank_hand_over.html", context, status=422 if form.errors else 200)


def invited(form):
    """Save what a valid form invites to; tells the form where it cannot be."""
    try:
        invite(invitation=form.instance)
    except ValidationError as problem:
        form.add_error(None, problem)
        return False
    return True


def link_to_show(request, invitation, token):
    """Keep a new invitation's link for the one page that shows it, and go there."""
    link = request.build_absolute_uri(reverse("invitation_open", args=[token]))
    kept = {"tank": invitation.tank_id, "link": link, "hands_over": invitation.hands_over}
    request.session[SHOWN_ONCE] = kept
    return redirect("invitation_link", invitation.tank_id)


@login_required
@require_GET
@never_cache
def invitation_link(request, tank_pk):
    """Show the link of the invitation just made; a second look finds nothing."""
    tank = owned_tank(request.user, tank_pk)
    kept = request.session.pop(SHOWN_ONCE, None)
    if not kept or kept["tank"] != tank.pk:
        return redirect("tank_settings", tank_pk)
    return render(request, "tanks/invitation_link.html", kept | {"tank": tank})


@login_required
@require_POST
def invitation_cancel(request, tank_pk, invitation_pk):
    tank = owned_tank(request.user, tank_pk)
    get_object_or_404(tank.invitations.open_now(), pk=invitation_pk).close()
    messages.success(request, "The invitation was called back. Its link opens nothing any more.")
    return redirect("tank_settings", tank_pk)


@require_http_methods(["GET", "POST"])
@never_cache
@paced(PAGE)
def invitation_open(request, token):
    """The invited one's page: look at who invites to what, then accept or decline.

    Who holds the link is told that much before signing in, so that they know what for.
    """
    invitation = Invitation.objects.for_token(token)
    if invitation is None:
        return mark_wrong(render(request, "tanks/invitation_gone.html", status=404))
    if request.method == "POST":
        if not request.user.is_authenticated:
            return redirect_to_login(request.path)
        return _answer_invitation(request, invitation)
    is_owner = invitation.tank.owner_id == request.user.pk
    context = {"invitation": invitation, "is_owner": is_owner}
    return render(request, "tanks/invitation_open.html", context)


@login_required
@require_POST
def invitation_answer(request, invitation_pk):
    """Answer without the link, for a keeper whose confirmed e-mail the invitation names."""
    waiting = Invitation.objects.for_keeper(request.user)
    return _answer_invitation(request, get_object_or_404(waiting, pk=invitation_pk))


def _answer_invitation(request, invitation):
    if invitation.tank.owner_id == request.user.pk:
        return redirect("tank_detail", invitation.tank_id)
    if "decline" in request.POST:
        invitation.close()
        messages.success(request, "Declined. You were not let in to the tank.")
        return redirect("tank_list")
    if accept_invitation(invitation=invitation, user=request.user) is None:
        raise Http404
    messages.success(request, f"You are in: {invitation.tank.name}.")
    return redirect("tank_detail", invitation.tank_id)


@login_required
@require_http_methods(["GET", "POST"])
def membership_edit(request, tank_pk, membership_pk):
    tank = owned_tank(request.user, tank_pk)
    membership = get_object_or_404(tank.memberships.select_related("user"), pk=membership_pk)
    form = MembershipForm(request.POST or None, instance=membership)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("tank_settings", tank_pk)
    context = {"tank": tank, "membership": membership, "form": form}
    return render(
        request, "tanks/membership_edit.html", context, status=422 if form.errors else 200
    )


@login_required
@require_POST
def membership_remove(request, tank_pk, membership_pk):
    tank = owned_tank(request.user, tank_pk)
    membership = get_object_or_404(tank.memberships.select_related("user"), pk=membership_pk)
    membership.delete()
    messages.success(request, f"{membership.user} can no longer see {tank.name}.")
    return redirect("tank_settings", tank_pk)


@login_required
@require_http_methods(["GET", "POST"])
def membership_leave(request, tank_pk):
    """Ask, then leave: only the owner could let the keeper in again."""
    tank = readable_tank(request.user, tank_pk)
    membership = get_object_or_404(tank.memberships, user=request.user)
    if request.method == "GET":
        return render(request, "tanks/membership_leave.html", {"tank": tank})
    membership.delete()
    messages.success(request, f"You left {tank.name}.")
    return redirect("tank_list")
