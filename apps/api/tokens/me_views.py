"""Who a token belongs to, and what it may."""

from drf_spectacular.utils import extend_schema
from knox.models import AuthToken
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.accounts.models import User
from apps.api.models import TokenCard
from apps.api.tokens.authentication import card_of


class TokenSerializer(serializers.Serializer):
    """The token that a call came with."""

    name = serializers.CharField()
    scope = serializers.ChoiceField(TokenCard.Scope.choices)
    expires_at = serializers.DateTimeField()


class MeSerializer(serializers.ModelSerializer):
    """The keeper; the token is null for one who is signed in to the pages."""

    name = serializers.CharField(source="shown_name")
    token = TokenSerializer(allow_null=True)

    class Meta:
        model = User
        fields = ["id", "name", "units", "time_zone", "token"]


class MeView(APIView):
    """Whose token it is, and what it may: the first call of a new program."""

    @extend_schema(responses=MeSerializer)
    def get(self, request: Request) -> Response:
        keeper = request.user
        keeper.token = shown_token(request.auth) if isinstance(request.auth, AuthToken) else None
        return Response(MeSerializer(keeper).data)


def shown_token(token: AuthToken) -> dict:
    """Return a token by the names of the answer."""
    card = card_of(token)
    return {
        "name": card.name if card else "",
        "scope": card.scope if card else TokenCard.Scope.WRITE,
        "expires_at": token.expiry,
    }
