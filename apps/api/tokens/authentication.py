"""Who a token lets in, and to what: `Authorization: Bearer ...` (RFC 6750)."""

from django.http import HttpRequest
from knox.auth import TokenAuthentication
from knox.models import AuthToken
from rest_framework.authentication import get_authorization_header
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from apps.api.models import TokenCard

# The second is how tokens were sent before.
SCHEMES = ("bearer", "token")


class BearerAuthentication(TokenAuthentication):
    """Takes a token after either scheme, and remembers when it was used."""

    def authenticate(self, request: Request) -> tuple[object, AuthToken] | None:
        sent = get_authorization_header(request).split()
        self.scheme = sent[0].decode("latin-1") if sent else "Bearer"
        if self.scheme.lower() not in SCHEMES:
            return None
        result = super().authenticate(request)
        if result and (card := card_of(result[1])):
            card.note_use()
        return result

    def authenticate_header(self, request: HttpRequest) -> str:
        scheme = getattr(self, "scheme", "Bearer")
        return scheme if scheme.lower() in SCHEMES else "Bearer"


class WithinScope(BasePermission):
    """A token is refused what its scope leaves out; a signed-in page has no scope.

    A view whose rows a lesser token may write, too, names that token's scope as its own.
    """

    message = "This token may not write here."

    def has_permission(self, request: Request, view: object) -> bool:
        scope = scope_of(request.auth)
        if scope == TokenCard.Scope.WRITE:
            return True
        if request.method in SAFE_METHODS or getattr(view, "only_reads", False):
            return True
        return scope == getattr(view, "scope", TokenCard.Scope.WRITE)


def scope_of(auth: object) -> str:
    """Return the scope of what a call came with; a signed-in page may do all."""
    card = card_of(auth) if isinstance(auth, AuthToken) else None
    return card.scope if card else TokenCard.Scope.WRITE


def card_of(token: AuthToken) -> TokenCard | None:
    """Return the card of a token, None for one made before there were cards."""
    return TokenCard.objects.filter(pk=token.pk).first()
