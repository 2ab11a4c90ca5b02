"""Invitations that a keeper received, for programs: accepted or declined."""

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.people.serializers import ReceivedInvitationSerializer
from apps.api.tank_serializers import TankSerializer
from apps.api.tank_views import tanks_of
from apps.common.links.link_api import OpenedSerializer, opened
from apps.common.programs.idempotency import OnceMixin
from apps.tanks.models import Invitation
from apps.tanks.people.joining import accept_invitation

YOURS, OVER = "This tank is yours.", "This invitation no longer works."
ACCEPTED = "The answer is the tank, which you can read from now on. An invitation works once."
BY_LINK = {"request": OpenedSerializer}


class ReceivedInvitationViewSet(OnceMixin, viewsets.ReadOnlyModelViewSet):
    """Open invitations to an e-mail that you confirmed as yours."""

    makes = ("accept", "accept_link")
    queryset = Invitation.objects.none()
    serializer_class = ReceivedInvitationSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return Invitation.objects.for_keeper(self.request.user)

    @extend_schema(
        request=None,
        responses=TankSerializer,
        summary="Accept an invitation",
        description=f"Join the tank, or become its owner. {ACCEPTED}",
    )
    @action(detail=True, methods=["post"])
    def accept(self, request: Request, **kwargs: object) -> Response:
        return self.made_once(request, lambda: self.accepted(self.get_object(), gone=Http404()))

    @extend_schema(request=None, responses={204: None}, summary="Decline an invitation")
    @action(detail=True, methods=["post"])
    def decline(self, request: Request, **kwargs: object) -> Response:
        """Say no: the invitation is closed."""
        self.get_object().close()
        return Response(status=204)

    @extend_schema(
        responses=TankSerializer,
        summary="Accept an invitation by its address",
        description=f"The same, by the address that the owner sent you. {ACCEPTED}",
        **BY_LINK,
    )
    @action(detail=False, methods=["post"], url_path="accept-link")
    def accept_link(self, request: Request) -> Response:
        before = self.answered_before(request)
        if before is not None:
            return before
        invitation = self.opened()
        gone = ValidationError({"address": [OVER]})
        # Of two at once by one key, the second may find it closed by the first.
        return self.made_once(request, lambda: self.accepted(invitation, gone=gone))

    @extend_schema(responses={204: None}, summary="Decline an invitation by its address", **BY_LINK)
    @action(detail=False, methods=["post"], url_path="decline-link")
    def decline_link(self, request: Request) -> Response:
        """Say no: the invitation is closed, and its address opens nothing any more."""
        invitation = self.opened()
        if invitation is None:
            raise ValidationError({"address": [OVER]})
        invitation.close()
        return Response(status=204)

    def opened(self) -> Invitation | None:
        """Return the open invitation whose address was sent; its owner takes it back instead."""
        serializer = OpenedSerializer(data=self.request.data)
        serializer.is_valid(raise_exception=True)
        token = serializer.validated_data["address"]
        invitation: Invitation | None = opened(self.request, token, Invitation.objects.for_token)
        if invitation is not None and invitation.tank.owner_id == self.request.user.pk:
            raise ValidationError({"address": [YOURS]})
        return invitation

    def accepted(self, invitation: Invitation | None, *, gone: Exception) -> Response:
        """Let the keeper in and answer with the tank; raise `gone` where another was faster."""
        tank = invitation and accept_invitation(invitation=invitation, user=self.request.user)
        if tank is None:
            raise gone
        row = tanks_of(self.request.user).get(pk=tank.pk)
        return Response(TankSerializer(row, context=self.get_serializer_context()).data)
