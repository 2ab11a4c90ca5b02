"""Tokens for programs: made, listed and revoked on the keeper's own pages.

There is no sign-in by password over the API, so a second step at sign-in can't be passed by.
"""

from allauth.account.decorators import reauthentication_required
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST
from knox.models import AuthToken

from apps.accounts.models import User
from apps.api.tokens.forms import TokenForm
from apps.common.idempotency import once

TOKENS_MAX = 10
# The token waits here between the post and the page that shows it, once.
SHOWN_ONCE = "new_token"


@login_required
@require_GET
@never_cache
def token_list(request: HttpRequest) -> HttpResponse:
    return token_page(request, TokenForm(), new_token=request.session.pop(SHOWN_ONCE, None))


def token_page(
    request: HttpRequest, form: TokenForm, *, new_token: str | None = None, status: int = 200
) -> HttpResponse:
    """Show the tokens of a keeper above the form for a new one."""
    context = {"tokens": living_tokens(request.user), "form": form, "new_token": new_token}
    return render(request, "api/tokens/token_list.html", context, status=status)


def living_tokens(user: User) -> QuerySet[AuthToken]:
    living = AuthToken.objects.filter(user=user, expiry__gt=timezone.now())
    return living.select_related("card").order_by("-created")


@login_required
@require_POST
@reauthentication_required
@once()
def token_new(request: HttpRequest) -> HttpResponse:
    """Make a token: it opens what a keeper has, so the password is asked first."""
    form = TokenForm(request.POST)
    if living_tokens(request.user).count() >= TOKENS_MAX:
        form.add_error(None, f"You have {TOKENS_MAX} tokens. Revoke one first.")
    if not form.is_valid():
        return token_page(request, form, status=422)
    with transaction.atomic():
        token, secret = AuthToken.objects.create(request.user, form.lifetime)
        form.instance.token = token
        form.save()
    request.session[SHOWN_ONCE] = secret
    return redirect("token_list")


@login_required
@require_POST
def token_revoke(request: HttpRequest, token_key: str) -> HttpResponse:
    get_object_or_404(AuthToken, user=request.user, token_key=token_key).delete()
    messages.success(request, f"Token {token_key[:6]}… no longer works.")
    return redirect("token_list")
