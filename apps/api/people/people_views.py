"""The people of a tank for programs: what each may do, and removing them."""

from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework import mixins, viewsets
from rest_framework.request import Request

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
        description="They no longer see the tank; what they entered stays. An invitation "
        "lets them in again.",
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
