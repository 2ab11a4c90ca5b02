"""Tokens for programs: made, listed and revoked on the keeper's own pages.

There is no sign-in by password over the API, so a second step at sign-in can't be passed by.
"""

from allauth.account.decorators import reauthentication_required
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST
from knox.models import AuthToken

from apps.common.idempotency import once

TOKENS_MAX = 10
# The token waits here between the post and the page that shows it, once.
SHOWN_ONCE = "new_token"


@login_required
@require_GET
@never_cache
def token_list(request):
    context = {
        "tokens": living_tokens(request.user),
        "new_token": request.session.pop(SHOWN_ONCE, None),
    }
    return render(request, "api/token_list.html", context)


def living_tokens(user):
    return AuthToken.objects.filter(user=user, expiry__gt=timezone.now()).order_by("-created")


@login_required
@require_POST
@reauthentication_required
@once()
def token_new(request):
    """Make a token: it opens all a keeper has for half a year, so the password is asked first."""
    if living_tokens(request.user).count() >= TOKENS_MAX:
        messages.error(request, f"You have {TOKENS_MAX} tokens. Revoke one first.")
    else:
        _, request.session[SHOWN_ONCE] = AuthToken.objects.create(request.user)
    return redirect("token_list")


@login_required
@require_POST
def token_revoke(request, token_key):
    get_object_or_404(AuthToken, user=request.user, token_key=token_key).delete()
    messages.success(request, f"Token {token_key[:6]}… no longer works.")
    return redirect("token_list")
