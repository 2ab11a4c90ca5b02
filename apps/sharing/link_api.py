"""Links for programs: a tank's share links for its owner, a calendar link for who reads it."""

import datetime as dt

from django.contrib.auth.hashers import make_password
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import mixins, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import APIView

from apps.common.links.forms import EXPIRY_DAYS, USUAL_DAYS
from apps.common.validation import RefusesUnknown, WholeModelSerializer
from apps.sharing.forms import PASSPHRASE_CHARS_MIN
from apps.sharing.models import CalendarLink, ShareLink
from apps.tanks.access import owned_tank, readable_tank

REVOKED = "A revoked link opens no more: make a new one."


class ShareLinkSerializer(WholeModelSerializer):
    """A link that shows a tank's light map to whoever has its address."""

    days = serializers.ChoiceField(
        EXPIRY_DAYS, default=USUAL_DAYS, write_only=True, help_text="How many days it opens for."
    )
    passphrase = serializers.CharField(
        min_length=PASSPHRASE_CHARS_MIN,
        max_length=80,
        required=False,
        write_only=True,
        help_text="Asked for besides the address.",
    )
    has_passphrase = serializers.BooleanField(source="passphrase", read_only=True)
    address = serializers.SerializerMethodField(
        help_text="Told in the answer that makes the link, and never again: null."
    )

    class Meta:
        model = ShareLink
        fields = [
            "id", "label", "as_of", "show_corals", "show_notes", "show_photos", "may_comment",
            "days", "passphrase", "has_passphrase", "address", "created_at", "expires_at",
            "revoked_at", "openings",
        ]  # fmt: skip
        read_only_fields = ["created_at", "expires_at", "revoked_at", "openings"]

    def get_address(self, link: ShareLink) -> str | None:
        token = self.context.get("token")
        if token is None:
            return None
        return str(self.context["request"].build_absolute_uri(reverse("shared_map", args=[token])))

    def validate(self, attrs: dict) -> dict:
        days, passphrase = attrs.pop("days"), attrs.pop("passphrase", "")
        attrs["expires_at"] = timezone.now() + dt.timedelta(days=days)
        attrs["passphrase"] = make_password(passphrase) if passphrase else ""
        return super().validate(attrs)

    def create(self, validated_data: dict) -> ShareLink:
        return super().create(validated_data | self.context["fixed"])


class ProlongSerializer(RefusesUnknown, serializers.Serializer):
    """For how long a link is to open."""

    days = serializers.ChoiceField(EXPIRY_DAYS, help_text="So many from now on.")


class ShareLinkViewSet(
    mixins.CreateModelMixin,
    mixins.RetrieveModelMixin,
    mixins.ListModelMixin,
    mixins.DestroyModelMixin,
    viewsets.GenericViewSet,
):
    """The share links of a tank, for its owner alone. DELETE revokes a link; it stays listed."""

    # What a token of scope "share" may write.
    scope = "share"
    queryset = ShareLink.objects.none()
    serializer_class = ShareLinkSerializer

    def initial(self, request, *args, **kwargs):
        super().initial(request, *args, **kwargs)
        self.tank = owned_tank(request.user, self.kwargs["tank_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return ShareLink.objects.filter(tank=self.tank).select_related("tank")

    def get_serializer_context(self):
        context = super().get_serializer_context()
        if getattr(self, "swagger_fake_view", False) or self.action != "create":
            return context
        link = ShareLink(tank=self.tank, created_by=self.request.user)
        token = link.renew_token()
        fixed = {name: getattr(link, name) for name in ("tank", "created_by", "token_hash")}
        return context | {"fixed": fixed, "token": token}

    def create(self, request, *args, **kwargs):
        response = super().create(request, *args, **kwargs)
        # No cache may learn the address.
        response["Cache-Control"] = "private, no-store"
        response["Location"] = self.request.build_absolute_uri(
            reverse("api-share-link-detail", args=[self.tank.pk, response.data["id"]])
        )
        return response

    def destroy(self, request, *args, **kwargs):
        """Revoke the link: it opens no more."""
        self.get_object().revoke()
        return Response(status=204)

    @extend_schema(
        summary="Prolong a share link",
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


class CalendarLinkSerializer(serializers.ModelSerializer):
    """Your secret address of a tank's calendar."""

    address = serializers.SerializerMethodField(
        help_text="Told in the answer that makes the link, and never again: null."
    )

    class Meta:
        model = CalendarLink
        fields = ["address", "created_at"]
        read_only_fields = fields

    def get_address(self, link: CalendarLink) -> str | None:
        token = self.context.get("token")
        if token is None:
            return None
        place = reverse("open_calendar", args=[token])
        return str(self.context["request"].build_absolute_uri(place))


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
