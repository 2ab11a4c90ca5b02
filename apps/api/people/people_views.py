"""The people of a tank for programs: what each may do, removing them, leaving."""

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework import mixins, viewsets
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.api.people.serializers import PersonSerializer
from apps.api.views import READS
from apps.common.programs.versions import VersionedMixin
from apps.tanks.access import owned_tank, readable_tank
from apps.tanks.models import Membership

EXAMPLE = OpenApiExample("May change things", {"role": "co_keeper"}, request_only=True)


@extend_schema_view(
    list=extend_schema(summary="List the people of a tank"),
    retrieve=extend_schema(summary="Read one of a tank's people"),
    update=extend_schema(summary="Set what a person may do", examples=[EXAMPLE]),
    partial_update=extend_schema(summary="Change what a person may do", examples=[EXAMPLE]),
    destroy=extend_schema(
        summary="Remove a person",
        description="They see the tank no more; what they entered stays. An invitation lets them "
        "in again.",
    ),
)
class PersonViewSet(
    VersionedMixin,
    mixins.UpdateModelMixin,
    mixins.DestroyModelMixin,
    viewsets.ReadOnlyModelViewSet,
):
    """Those whom its owner let in to a tank. They all see who is in; the owner says who."""

    queryset = Membership.objects.none()
    serializer_class = PersonSerializer

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        find = readable_tank if request.method in READS else owned_tank
        self.tank = find(request.user, self.kwargs["tank_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.tank.memberships.select_related("user")


class LeaveView(APIView):
    """A keeper's own leaving of a tank that they were let in to."""

    @extend_schema(
        request=None,
        responses={204: None},
        summary="Leave a tank",
        description="You see it no more; what you entered stays, and its owner alone can let you "
        "in again. Its owner can't leave it: 404.",
    )
    def post(self, request: Request, tank_pk: int) -> Response:
        tank = readable_tank(request.user, tank_pk)
        get_object_or_404(tank.memberships, user=request.user).delete()
        return Response(status=204)
