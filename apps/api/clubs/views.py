"""Clubs for programs: those a keeper is in, and who belongs to them."""

from django.core.exceptions import ValidationError as Unsound
from django.db.models import Exists, Model, OuterRef
from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.clubs import serializers
from apps.api.views import READS
from apps.clubs.access import officers_club, readable_club
from apps.clubs.joining import make_club
from apps.clubs.leaving import block, leave, others_in, set_role
from apps.clubs.models import Club, Membership
from apps.common.programs.idempotency import ModelViewSet
from apps.common.programs.versions import VersionedMixin
from apps.common.validation import api_messages


class ClubViewSet(ModelViewSet):
    """The clubs you are in. If you make one, you are its officer; officers can rename it.

    To leave or close a club, use its page: it first says what leaves with you.
    """

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
        return club if self.request.method in READS else officers_club(self.request.user, club.pk)

    def perform_create(self, serializer) -> None:
        serializer.instance = make_club(
            club=Club(**serializer.validated_data), by=self.request.user
        )


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
        description="Remove a member, and stop the club's links from letting them back in. An "
        "officer can unblock them on the club's page.",
    )
    @action(detail=True, methods=["post"])
    def block(self, request: Request, **kwargs: object) -> Response:
        block(club=self.club, user=self.other(self.get_object()).user)
        return Response(status=204)
