"""Pages of whoever runs the site, and the one-time links by which they or officers help keepers."""

from allauth.account.decorators import reauthentication_required
from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from apps.accounts.models import User
from apps.accounts.password_links import password_path
from apps.accounts.security_events import log_event
from apps.clubs.access import officers_club
from apps.clubs.leaving import others_in
from apps.clubs.models import Membership
from apps.hosting.site.facts import site_facts
from apps.hosting.site.forms import KeeperForm


def require_host(user: User) -> None:
    """Raise Http404 for all but those who may do everything here: others learn of no such page."""
    if not user.is_superuser:
        raise Http404


@login_required
@require_GET
def site_overview(request: HttpRequest) -> HttpResponse:
    """Show what a host should know now."""
    require_host(request.user)
    context = {"facts": site_facts(timezone.now()), "admin": f"/{settings.ADMIN_PATH}"}
    return render(request, "hosting/site_overview.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def site_keeper(request: HttpRequest) -> HttpResponse:
    """Make a one-time link for a keeper's password; say how else a keeper is helped."""
    require_host(request.user)
    return _help_keeper(request)


# Whoever sits down at a host's open screen must not get into every account.
@reauthentication_required
def _help_keeper(request: HttpRequest) -> HttpResponse:
    form = KeeperForm(request.POST or None)
    context = {"form": form, "sends_mail": settings.MAILS == "sent"}
    if request.method == "POST" and form.is_valid():
        context |= {"address": _reset_address(request, form.cleaned_data["email"], by="the host")}
    status = 422 if form.errors else 200
    return render(request, "hosting/site_keeper.html", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def member_reset(request: HttpRequest, club_pk: int, membership_pk: int) -> HttpResponse:
    """Let an officer make a one-time link for a member's password, where the host allows it."""
    if not settings.OFFICERS_RESET:
        raise Http404
    club = officers_club(request.user, club_pk)
    member = get_object_or_404(others_in(club, request.user), pk=membership_pk)
    # Nobody gets by it what they may not do themselves.
    if member.role == Membership.Role.OFFICER or member.user.is_staff:
        raise PermissionDenied
    return _help_member(request, member)


@reauthentication_required
def _help_member(request: HttpRequest, member: Membership) -> HttpResponse:
    context = {"membership": member, "club": member.club}
    if request.method == "POST":
        context |= {"address": _reset_address(request, member.user, by="an officer")}
    return render(request, "hosting/member_reset.html", context)


def _reset_address(request: HttpRequest, user: User, *, by: str) -> str:
    """Return a new address where a keeper chooses their password, and put that down in the log."""
    log_event(f"reset link made by {by}", user)
    return request.build_absolute_uri(password_path(user))
