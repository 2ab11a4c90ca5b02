"""Links for programs: a tank's share links for its owner, a calendar link for who reads it."""

from django.contrib.auth.hashers import make_password
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import mixins, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.common.links.forms import EXPIRY_DAYS
from apps.common.links.link_api import SecretLinkSerializer, TellsAddress, TellsAddressMixin
from apps.common.programs.serializers import RefusesUnknown
from apps.sharing.forms import PASSPHRASE_CHARS_MIN
from apps.sharing.models import CalendarLink, ShareLink
from apps.tanks.access import owned_tank, readable_tank

REVOKED = "A revoked link opens no more: make a new one."


class LockedLinkSerializer(SecretLinkSerializer):
    """A link that may ask for a word besides."""

    passphrase = serializers.CharField(
        min_length=PASSPHRASE_CHARS_MIN,
        max_length=80,
        required=False,
        write_only=True,
        help_text="Asked for besides the address.",
    )
    has_passphrase = serializers.BooleanField(source="passphrase", read_only=True)

    def validate(self, attrs: dict) -> dict:
        passphrase = attrs.pop("passphrase", "")
        attrs["passphrase"] = make_password(passphrase) if passphrase else ""
        return super().validate(attrs)


class ShareLinkSerializer(LockedLinkSerializer):
    """A link that shows a tank's light map to whoever has its address."""

    opens = "shared_map"

    class Meta:
        model = ShareLink
        fields = [
            "id", "label", "as_of", "show_corals", "show_notes", "show_photos", "may_comment",
            "days", "passphrase", "has_passphrase", "address", "created_at", "expires_at",
            "revoked_at", "openings",
        ]  # fmt: skip
        read_only_fields = ["created_at", "expires_at", "revoked_at", "openings"]


class ProlongSerializer(RefusesUnknown, serializers.Serializer):
    """For how long a link is to open."""

    days = serializers.ChoiceField(EXPIRY_DAYS, help_text="So many from now on.")


class LockedLinkViewSet(
    TellsAddressMixin,
    mixins.CreateModelMixin,
    mixins.RetrieveModelMixin,
    mixins.ListModelMixin,
    mixins.DestroyModelMixin,
    viewsets.GenericViewSet,
):
    """Links of one thing: made, listed and revoked by its owner."""

    # What a token of scope "share" may write.
    scope = "share"

    def destroy(self, request, *args, **kwargs):
        """Revoke the link: it opens no more."""
        self.get_object().revoke()
        return Response(status=204)


class ShareLinkViewSet(LockedLinkViewSet):
    """The share links of a tank, for its owner alone. DELETE revokes a link; it stays listed."""

    queryset = ShareLink.objects.none()
    serializer_class = ShareLinkSerializer
    fixed_names = ("tank", "created_by", "token_hash")

    def initial(self, request, *args, **kwargs):
        super().initial(request, *args, **kwargs)
        self.tank = owned_tank(request.user, self.kwargs["tank_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return ShareLink.objects.filter(tank=self.tank).select_related("tank")

    def new_row(self):
        return ShareLink(tank=self.tank, created_by=self.request.user)

    @extend_schema(
        summary="Extend a share link",
        description="Let a link open for some days from now on, also one that ran out; none that "
        "was revoked.",
        request=ProlongSerializer,
        responses=ShareLinkSerializer,
        examples=[OpenApiExample("A week", {"days": 7}, request_only=True)],
    )
    @action(detail=True, methods=["post"])
    def prolong(self, request, **kwargs):
        link = self.get_object()
        serializer = ProlongSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        if not link.prolong(days=serializer.validated_data["days"]):
            raise ValidationError({"days": [REVOKED]})
        return Response(self.get_serializer(link).data)


class CalendarLinkSerializer(TellsAddress, serializers.ModelSerializer):
    """Your secret address of a tank's calendar."""

    opens = "open_calendar"

    class Meta:
        model = CalendarLink
        fields = ["address", "created_at"]
        read_only_fields = fields


class CalendarLinkView(APIView):
    """The reader's own calendar link of a tank: its acclimation steps and reminders."""

    @extend_schema(summary="Read your calendar link", responses=CalendarLinkSerializer)
    def get(self, request, tank_pk):
        """Say since when your link opens the calendar; 404 where you have none."""
        link = get_object_or_404(self.own(request, tank_pk))
        return Response(CalendarLinkSerializer(link).data)

    @extend_schema(
        summary="Make your calendar link",
        request=None,
        responses={201: CalendarLinkSerializer},
    )
    def post(self, request, tank_pk):
        """Make your link, or renew it: the address it had before opens no more."""
        tank = readable_tank(request.user, tank_pk)
        link, token = CalendarLink.objects.renew(tank=tank, keeper=request.user)
        context = {"request": request, "token": token}
        response = Response(CalendarLinkSerializer(link, context=context).data, status=201)
        # No cache may learn the address.
        response["Cache-Control"] = "private, no-store"
        return response

    @extend_schema(summary="End your calendar link", request=None, responses={204: None})
    def delete(self, request, tank_pk):
        """End your link: its address opens no more."""
        self.own(request, tank_pk).delete()
        return Response(status=204)

    def own(self, request, tank_pk):
        """Return the reader's own link, none or one."""
        return readable_tank(request.user, tank_pk).calendar_links.filter(keeper=request.user)
