"""Invitations to a tank and offers of it, for programs: made and taken back by its owner."""

from django.db import transaction
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework import mixins, viewsets
from rest_framework.exceptions import PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.models import TokenCard
from apps.api.people import serializers
from apps.api.tokens.authentication import scope_of
from apps.common.links.link_api import TellsAddressMixin
from apps.tanks.access import hold_tanks, owned_tank
from apps.tanks.models import Invitation, Membership

ONLY_VIEWERS = "This token may invite viewers, but not co-keepers."
ONLY_OVER_VIEWERS = (
    "This e-mail has an open offer of the tank, or an open invitation as a "
    "co-keeper. This token may not close it."
)
ONE_AN_ADDRESS = (
    "No mail is sent: send the address yourself. It works once, for 14 "
    "days, and a newer one to the same e-mail replaces it. A keeper who "
    "has confirmed that e-mail also finds it among their invitations."
)


class OpenInvitationViewSet(
    TellsAddressMixin,
    mixins.CreateModelMixin,
    mixins.RetrieveModelMixin,
    mixins.ListModelMixin,
    mixins.DestroyModelMixin,
    viewsets.GenericViewSet,
):
    """The open invitations of one kind, for the tank's owner alone."""

    hands_over = False
    queryset = Invitation.objects.none()
    fixed_names = ("tank", "hands_over", "token_hash", "expires_at")

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        self.tank = owned_tank(request.user, self.kwargs["tank_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.tank.invitations.open_now().filter(hands_over=self.hands_over)

    def new_row(self) -> Invitation:
        return Invitation(tank=self.tank, hands_over=self.hands_over)

    def destroy(self, request: Request, *args: object, **kwargs: object) -> Response:
        self.get_object().close()
        return Response(status=204)


@extend_schema_view(
    create=extend_schema(
        summary="Invite somebody to a tank",
        description=f"Make an invitation. {ONE_AN_ADDRESS} A token to share may invite viewers.",
        examples=[
            OpenApiExample(
                "To look", {"email": "friend@example.org", "role": "viewer"}, request_only=True
            )
        ],
    ),
    destroy=extend_schema(
        summary="Take an invitation back", description="Its address stops working."
    ),
)
class InvitationViewSet(OpenInvitationViewSet):
    """The open invitations to a tank, for its owner alone."""

    # What a token of scope "share" may write. It lets nobody in who may write.
    scope = "share"
    serializer_class = serializers.InvitationSerializer

    def perform_create(self, serializer) -> None:
        role = serializer.validated_data.get("role", Membership.Role.VIEWER)
        if not self.only_viewers():
            super().perform_create(serializer)
            return
        if role != Membership.Role.VIEWER:
            raise PermissionDenied(ONLY_VIEWERS)
        with transaction.atomic():
            # Held, as whoever invites holds it: what is open to the address stays the same.
            hold_tanks([self.tank.pk])
            taken_place_of = self.tank.invitations.open_now().filter(
                email__iexact=serializer.validated_data["email"]
            )
            if taken_place_of.exclude(hands_over=False, role=Membership.Role.VIEWER).exists():
                raise PermissionDenied(ONLY_OVER_VIEWERS)
            super().perform_create(serializer)

    def destroy(self, request: Request, *args: object, **kwargs: object) -> Response:
        if self.only_viewers() and self.get_object().role != Membership.Role.VIEWER:
            raise PermissionDenied(ONLY_OVER_VIEWERS)
        return super().destroy(request, *args, **kwargs)

    def only_viewers(self) -> bool:
        """Tell whether the call comes with a token that shares, but does not write."""
        return scope_of(self.request.auth) == TokenCard.Scope.SHARE


@extend_schema_view(
    list=extend_schema(summary="List offers of a tank"),
    retrieve=extend_schema(summary="Read an offer of a tank"),
    create=extend_schema(
        summary="Hand a tank over",
        description="Offer the tank to another owner. Whoever accepts owns it with all "
        "that is in it. What you shared of it closes, and you lose access "
        "unless you stay. " + ONE_AN_ADDRESS,
        examples=[
            OpenApiExample(
                "Stay as a co-keeper",
                {"email": "heir@example.org", "owner_stays": True},
                request_only=True,
            )
        ],
    ),
    destroy=extend_schema(
        summary="Take an offer of a tank back", description="The tank stays yours."
    ),
)
class TankOfferViewSet(OpenInvitationViewSet):
    """The open offers of a tank to another owner, for its owner alone."""

    hands_over = True
    serializer_class = serializers.TankOfferSerializer
