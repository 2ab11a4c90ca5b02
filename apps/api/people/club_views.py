"""Which of its owner's clubs see a tank, for programs."""

from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework import mixins, viewsets
from rest_framework.request import Request

from apps.api.people.serializers import ClubSightSerializer
from apps.clubs.models import Club
from apps.common.programs.versions import VersionedMixin
from apps.tanks.access import owned_tank
from apps.tanks.showing.showing import clubs_with_sight

EXAMPLE = OpenApiExample("The light map", {"sees": "map"}, request_only=True)


@extend_schema_view(
    list=extend_schema(summary="List which clubs see a tank"),
    retrieve=extend_schema(summary="Read what a club sees of a tank"),
    update=extend_schema(summary="Set what a club sees of a tank", examples=[EXAMPLE]),
    partial_update=extend_schema(summary="Show a tank to a club, or stop", examples=[EXAMPLE]),
)
class TankClubViewSet(VersionedMixin, mixins.UpdateModelMixin, viewsets.ReadOnlyModelViewSet):
    """The clubs you are in and what each sees of a tank of yours, for its owner alone.

    A club sees nothing until you say so; `nothing` takes it back. You may do it with a token that
    shares.
    """

    http_method_names = ["get", "put", "patch", "head", "options"]
    # What a token of scope "share" may write.
    scope = "share"
    queryset = Club.objects.none()
    serializer_class = ClubSightSerializer

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        self.tank = owned_tank(request.user, self.kwargs["tank_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return clubs_with_sight(self.tank, self.request.user)

    def get_serializer_context(self) -> dict[str, object]:
        tank = {} if getattr(self, "swagger_fake_view", False) else {"tank": self.tank}
        return super().get_serializer_context() | tank
