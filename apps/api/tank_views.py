"""Tanks for programs: made, changed, ended and reopened, left, deleted."""

from django.core.exceptions import ValidationError as Unsound
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import User
from apps.api.tank_serializers import EndSerializer, TankSerializer
from apps.api.views import READS, RemovingMixin
from apps.common.programs.idempotency import ModelViewSet
from apps.common.programs.serializers import api_messages
from apps.tanks.access import owned_tank, require_write
from apps.tanks.ending.ending import end_tank, reopen_tank
from apps.tanks.models import Tank, TankQuerySet

# What only its owner may do with a tank, besides deleting it.
OWNERS = ("end", "reopen")


def tanks_of(user: User) -> TankQuerySet:
    """Return the tanks a user may read, each with what they may do there."""
    return Tank.objects.visible_to(user).select_related("owner").with_role_of(user)


class TankViewSet(RemovingMixin, ModelViewSet):
    """Tanks the user owns or was let in to. Only its owner may end, reopen or DELETE one."""

    guards = OWNERS
    queryset = Tank.objects.none()
    serializer_class = TankSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return tanks_of(self.request.user)

    def get_object(self):
        tank = super().get_object()
        if self.request.method == "DELETE" or self.action in OWNERS:
            owned_tank(self.request.user, tank.pk)
        elif self.request.method not in READS and self.action != "leave":
            require_write(self.request.user, tank)
        return tank

    def get_serializer_context(self):
        # A new tank is its maker's; a changed one stays whose it is.
        fixed = {"owner": self.request.user} if self.action == "create" else {}
        return super().get_serializer_context() | {"fixed": fixed}

    def perform_create(self, serializer):
        tank = serializer.save(owner=self.request.user)
        tank.role_of_reader = "owner"

    @extend_schema(
        request=EndSerializer,
        responses=TankSerializer,
        summary="End a tank",
        description="Say when a tank ended. All that was entered stays and can be read; "
        "reminders stop. Repeating it changes nothing.",
        examples=[
            OpenApiExample("Ended", {"ended_on": "2026-05-31"}, request_only=True),
            OpenApiExample(
                "Moved to another", {"ended_on": "2026-05-31", "successor": 12}, request_only=True
            ),
        ],
    )
    @action(detail=True, methods=["post"])
    def end(self, request: Request, **kwargs: object) -> Response:
        context = self.get_serializer_context() | {"tank": self.get_object()}
        serializer = EndSerializer(data=request.data, context=context)
        serializer.is_valid(raise_exception=True)
        day = serializer.validated_data["ended_on"]
        successor = serializer.validated_data.get("successor")
        try:
            return self.changed(
                request, lambda tank: end_tank(tank=tank, on=day, successor=successor)
            )
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None

    @extend_schema(
        request=None,
        responses=TankSerializer,
        summary="Reopen a tank",
        description="Let an ended tank run again. Corals that moved to another tank stay "
        "there. Repeating it changes nothing.",
    )
    @action(detail=True, methods=["post"])
    def reopen(self, request: Request, **kwargs: object) -> Response:
        return self.changed(request, lambda tank: reopen_tank(tank=tank))

    @extend_schema(
        request=None,
        responses={204: None},
        summary="Leave a tank",
        description="You no longer see it; what you entered stays, and only its owner can "
        "let you in again. Its owner can't leave it: 404.",
    )
    @action(detail=True, methods=["post"])
    def leave(self, request: Request, **kwargs: object) -> Response:
        get_object_or_404(self.get_object().memberships, user=request.user).delete()
        return Response(status=204)
