"""Who may come in to a club, for programs: links that let one in, and keepers who are blocked."""

from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework import mixins, viewsets
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.clubs import serializers
from apps.clubs.access import officers_club
from apps.clubs.models import Block, ClubLink
from apps.common.links.link_api import TellsAddressMixin


class OfficersMixin:
    """Before a viewset of a club's rows that only its officers see."""

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        self.club = officers_club(request.user, self.kwargs["club_pk"])


@extend_schema_view(
    create=extend_schema(
        summary="Make a link to join a club",
        description="Anyone who has its address can join until it expires.",
        examples=[OpenApiExample("For a month", {"label": "Forum", "days": 30}, request_only=True)],
    ),
    destroy=extend_schema(
        summary="Revoke a link to join a club",
        description="It stops working, and stays in the list.",
    ),
)
class ClubLinkViewSet(
    OfficersMixin,
    TellsAddressMixin,
    mixins.CreateModelMixin,
    mixins.RetrieveModelMixin,
    mixins.ListModelMixin,
    mixins.DestroyModelMixin,
    viewsets.GenericViewSet,
):
    """The links by which keepers join a club, for its officers alone."""

    queryset = ClubLink.objects.none()
    serializer_class = serializers.ClubLinkSerializer
    fixed_names = ("club", "created_by", "token_hash")

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.club.links.all()

    def new_row(self) -> ClubLink:
        return ClubLink(club=self.club, created_by=self.request.user)

    def destroy(self, request: Request, *args: object, **kwargs: object) -> Response:
        self.get_object().revoke()
        return Response(status=204)


@extend_schema_view(
    list=extend_schema(summary="List blocked keepers"),
    retrieve=extend_schema(summary="Read one blocked keeper"),
    destroy=extend_schema(
        summary="Unblock a keeper", description="A link of the club lets them in again."
    ),
)
class BlockViewSet(OfficersMixin, mixins.DestroyModelMixin, viewsets.ReadOnlyModelViewSet):
    """The keepers whom no link of a club lets in, for its officers alone."""

    queryset = Block.objects.none()
    serializer_class = serializers.BlockSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.club.blocks.select_related("user")
