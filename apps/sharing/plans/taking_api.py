"""A shared plan copied into a tank of the caller's, by the address of its link."""

from django.core.exceptions import ValidationError as Unsound
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers, viewsets
from rest_framework.exceptions import Throttled, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.links.link_api import OpenedSerializer, opened
from apps.common.programs.idempotency import OnceMixin
from apps.common.programs.serializers import api_messages
from apps.common.throttling import PASSPHRASE, note_wrong_word, seconds_to_wait
from apps.planning.models import Plan
from apps.sharing.forms import TakePlanForm
from apps.sharing.models import PlanLink
from apps.sharing.passphrase import is_right
from apps.sharing.taking import fit_light, take_plan
from apps.tanks.models import Tank

CLOSED = "This link opens no plan, or no longer works."
LOCKED = "This link asks for its passphrase."
WRONG = "That is not the passphrase."
LINK = {"address": "https://reef.example/p/n0t-a-real-one/", "tank": 12}


class TakingSerializer(OpenedSerializer):
    """Which shared plan to copy into which tank."""

    passphrase = serializers.CharField(
        required=False, max_length=80, help_text="Where the link asks for one."
    )
    tank = serializers.IntegerField(
        help_text="A tank of yours, or one that you may edit; not one that has ended."
    )


class TakenPlanSerializer(serializers.ModelSerializer):
    """Your copy: read it at `plans/` by its `id`."""

    class Meta:
        model = Plan
        fields = ["id", "kind", "name", "tank"]
        read_only_fields = fields


class TakenPlanViewSet(OnceMixin, viewsets.GenericViewSet):
    """Plans that others shared, to be copied."""

    queryset = Plan.objects.none()
    serializer_class = TakingSerializer

    @extend_schema(
        summary="Take a shared plan into a tank",
        description="Copy the plan that a link opens into a tank of yours: a layout with "
        "its answers, or a what-if worked out again for your tank. Its lamps "
        "are added to your library.",
        responses={201: TakenPlanSerializer},
        examples=[OpenApiExample("By its address", LINK, request_only=True)],
    )
    def create(self, request: Request) -> Response:
        before = self.answered_before(request)
        if before is not None:
            return before
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        sent = serializer.validated_data
        # Before the transaction, which would take the count of a wrong word back.
        link, tank = unlocked(request, sent), tank_to_take_into(request, sent["tank"])
        # Kept from here on, so that nobody's save waits while a light is fitted.
        fit_light(link.plan, tank)
        return self.made_once(request, lambda: self.take(link.plan, tank))

    def take(self, shared: Plan, tank: Tank) -> Response:
        """Copy a plan into a tank, or say why not."""
        try:
            plan = take_plan(plan=shared, keeper=self.request.user, tank=tank)
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None
        return Response(TakenPlanSerializer(plan).data, status=201)


def unlocked(request: Request, sent: dict) -> PlanLink:
    """Return the link that was named, at the pace of its page; refuse what does not open."""
    token, passphrase = sent["address"], sent.get("passphrase")
    link = opened(request, token, PlanLink.objects.for_token)
    if link is None:
        raise ValidationError({"address": [CLOSED]})
    if not link.passphrase:
        return link
    if passphrase is None:
        raise ValidationError({"passphrase": [LOCKED]})
    if wait_s := seconds_to_wait(PASSPHRASE, request, token):
        raise Throttled(wait_s)
    if not is_right(link, passphrase):
        note_wrong_word(token)
        raise ValidationError({"passphrase": [WRONG]})
    return link


def tank_to_take_into(request: Request, pk: int) -> Tank:
    """Return the tank that was named, by the form of the page."""
    form = TakePlanForm({"tank": pk}, user=request.user)
    if not form.is_valid():
        raise ValidationError({"tank": list(form.errors["tank"])})
    return form.cleaned_data["tank"]
