"""Signing up by invitation where sign-up is closed: a link opens it, one account uses it up."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from apps.accounts.models import SignUpInvitation
from apps.common.throttling import PAGE, mark_wrong, paced
from apps.common.tokens import hash_token

# What an opened link leaves in the session: never the token itself.
SESSION_KEY = "sign_up_invitation"


@require_GET
@paced(PAGE)
def sign_up_invited(request: HttpRequest, token: str) -> HttpResponse:
    """Remember an open invitation and go to sign-up; say where it is used up or too old."""
    token_hash = hash_token(token)
    if not SignUpInvitation.objects.open().filter(token_hash=token_hash).exists():
        return mark_wrong(render(request, "account/signup_closed.html", status=404))
    request.session[SESSION_KEY] = token_hash
    return redirect("account_signup")


def is_invited(request: HttpRequest) -> bool:
    """Whether this visitor opened an invitation that still stands."""
    token_hash = request.session.get(SESSION_KEY, "")
    return SignUpInvitation.objects.open().filter(token_hash=token_hash).exists()


def use_invitation(request: HttpRequest) -> bool:
    """Use up the visitor's invitation; False when somebody else was faster."""
    token_hash = request.session.pop(SESSION_KEY, "")
    return SignUpInvitation.objects.use(token_hash)
