"""Clubs for programs: those a keeper is in, and who belongs to them."""

from django.core.exceptions import ValidationError as Unsound
from django.db.models import Exists, Model, OuterRef
from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import mixins, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import PermissionDenied, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.clubs import serializers
from apps.api.views import READS
from apps.clubs.access import officers_club, readable_club
from apps.clubs.joining import is_blocked, join, make_club
from apps.clubs.leaving import (
    OfficerMissing,
    block,
    close,
    going_along,
    is_last_officer,
    leave,
    others_in,
    set_role,
)
from apps.clubs.models import Club, ClubLink, Membership
from apps.common.links.link_api import OpenedSerializer, opened
from apps.common.programs.idempotency import ModelViewSet
from apps.common.programs.serializers import api_messages
from apps.common.programs.versions import VersionedMixin, writing

NO_WAY_IN = "This link lets nobody in any more."
NOT_LAST = "The club has another officer, so there is no successor to name."
NAME_ONE = "You are the last officer: name another member, or close the club."
OTHERS_LEAD = "The club has another officer. Leave it, or ask them to step down first."


class ClubViewSet(ModelViewSet):
    """The clubs you are in. If you make one, you are its officer; officers can rename it."""

    http_method_names = ["get", "post", "put", "patch", "head", "options"]
    queryset = Club.objects.none()
    serializer_class = serializers.ClubSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        leads = Membership.objects.filter(
            club=OuterRef("pk"), user=self.request.user, role=Membership.Role.OFFICER
        )
        return Club.objects.visible_to(self.request.user).annotate(leads=Exists(leads))

    def get_object(self) -> Club:
        club = super().get_object()
        if self.request.method in READS or self.action == "leave":
            return club
        return officers_club(self.request.user, club.pk)

    def perform_create(self, serializer) -> None:
        serializer.instance = make_club(
            club=Club(**serializer.validated_data), by=self.request.user
        )

    @extend_schema(
        request=OpenedSerializer,
        summary="Join a club",
        description="Join with the address that an officer sent you. Members keep their "
        "role. Repeating it changes nothing.",
    )
    @action(detail=False, methods=["post"])
    def join(self, request: Request) -> Response:
        serializer = OpenedSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        link = opened(request, serializer.validated_data["address"], self.way_in)
        club = link and join(link=link, user=request.user)
        if club is None:
            raise ValidationError({"address": [NO_WAY_IN]})
        return Response(self.get_serializer(club).data)

    def way_in(self, token: str) -> ClubLink | None:
        """Return the link of a token; to a blocked keeper it is as if there were none."""
        link: ClubLink | None = ClubLink.objects.for_token(token)
        return None if link and is_blocked(self.request.user, link.club) else link

    @extend_schema(
        responses=serializers.LeavingSerializer,
        summary="Read what leaving takes along",
        description="See what of yours would leave the club when you do. Nothing is changed.",
    )
    @action(detail=True)
    def leaving(self, request: Request, **kwargs: object) -> Response:
        club, user = self.get_object(), request.user
        said = {
            "is_last_officer": is_last_officer(user, club),
            "going_along": list(going_along(user, club)),
        }
        return Response(serializers.LeavingSerializer(said).data)

    @extend_schema(
        request=serializers.LeaveClubSerializer,
        responses={204: None},
        summary="Leave a club",
        description="What you showed or lent to the club leaves it with you. The last officer "
        "names a successor, or closes the club.",
        examples=[
            OpenApiExample("As a member", {}, request_only=True),
            OpenApiExample("As the last officer", {"successor": 7}, request_only=True),
        ],
    )
    @action(detail=True, methods=["post"])
    def leave(self, request: Request, **kwargs: object) -> Response:
        club = self.get_object()
        context = self.get_serializer_context() | {"club": club}
        serializer = serializers.LeaveClubSerializer(data=request.data, context=context)
        serializer.is_valid(raise_exception=True)
        successor = serializer.validated_data.get("successor")
        if successor is not None and not is_last_officer(request.user, club):
            raise ValidationError({"successor": [NOT_LAST]})
        try:
            leave(club=club, user=request.user, successor=successor)
        except OfficerMissing:
            raise ValidationError({"successor": [NAME_ONE]}) from None
        return Response(status=204)

    @extend_schema(
        request=None,
        responses={204: None},
        summary="Close a club",
        description="Close it for good: everyone leaves with what they showed or lent, and "
        "what the club owned becomes yours. Only its last officer can close it.",
    )
    @action(detail=True, methods=["post"])
    def close(self, request: Request, **kwargs: object) -> Response:
        club = self.get_object()
        with writing(request):
            if not is_last_officer(request.user, club):
                raise PermissionDenied(OTHERS_LEAD)
            close(club=club, by=request.user)
        return Response(status=204)


class ClubMemberViewSet(
    VersionedMixin,
    mixins.UpdateModelMixin,
    mixins.DestroyModelMixin,
    viewsets.ReadOnlyModelViewSet,
):
    """The members of a club. Officers set roles and remove others.

    When members are removed, what they showed or offered to the club goes with them, and so do
    their turns with its meters.
    """

    queryset = Membership.objects.none()
    serializer_class = serializers.MembershipSerializer

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        find = readable_club if request.method in READS else officers_club
        self.club = find(request.user, self.kwargs["club_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.club.memberships.select_related("user", "club")

    def hold(self, row: Model) -> None:
        # Whoever is put out or given a role is so while the club is held.
        super().hold(self.club)

    def perform_update(self, serializer) -> None:
        role = serializer.validated_data.get("role", serializer.instance.role)
        try:
            set_role(membership=serializer.instance, role=role)
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None

    def perform_destroy(self, membership: Membership) -> None:
        leave(club=self.club, user=self.other(membership).user)

    def other(self, membership: Membership) -> Membership:
        """Return a member whom an officer may put out: everyone but themselves."""
        if not others_in(self.club, self.request.user).filter(pk=membership.pk).exists():
            raise Http404
        return membership

    @extend_schema(
        request=None,
        responses={204: None},
        summary="Block a member",
        description="Remove a member, and stop the club's links from letting them back in.",
    )
    @action(detail=True, methods=["post"])
    def block(self, request: Request, **kwargs: object) -> Response:
        block(club=self.club, user=self.other(self.get_object()).user)
        return Response(status=204)
