"""What-ifs of a tank: another rig tried without touching anything, and kept as a plan."""

from django.core.exceptions import ValidationError as Unsound
from django.utils import timezone
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import viewsets
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from apps.api.plan_serializers import PlanSerializer
from apps.api.views import FixedParentMixin
from apps.api.what_if import serializers
from apps.common.programs.idempotency import OnceMixin
from apps.common.programs.serializers import api_messages
from apps.planning.models import WHAT_IF, Plan
from apps.planning.what_if.keeping import TriedRig, keep_tried, usual_name
from apps.planning.what_if.live_light import LiveLight, live_light

HIGHER = {"hung": [{"number": 1, "height_cm": 30}]}
EXAMPLES = [OpenApiExample("A lamp hung higher", HIGHER, request_only=True)]


class WhatIfViewSet(OnceMixin, FixedParentMixin, viewsets.GenericViewSet):
    """Another rig over a tank as it stands now, tried without touching anything."""

    queryset = Plan.objects.none()
    serializer_class = serializers.WhatIfSerializer
    filter_backends: tuple[type, ...] = ()
    pagination_class = None

    @extend_schema(
        summary="Try a what-if",
        description="See the light that another rig would give, by the tank’s current "
        "light map. Nothing is stored. You must be allowed to keep it, with a "
        "token that may write.",
        responses=serializers.TriedWhatIfSerializer,
        examples=EXAMPLES,
    )
    def look(self, request: Request, **kwargs: object) -> Response:
        live, sent = self.sent(serializers.WhatIfSerializer)
        name = usual_name(live, sent["tried"], request.user.units)
        row = serializers.tried_row(sent["tried"], name)
        return Response(serializers.TriedWhatIfSerializer(row).data)

    @extend_schema(
        summary="Keep a what-if",
        description="Keep another rig as a plan of the tank, with the light it would give. Read, "
        "rename or delete it at `plans/`.",
        request=serializers.KeptWhatIfSerializer,
        responses={201: PlanSerializer},
        examples=EXAMPLES,
    )
    def create(self, request: Request, **kwargs: object) -> Response:
        before = self.answered_before(request)
        if before is None:
            # Worked out before any row is locked.
            live, sent = self.sent(serializers.KeptWhatIfSerializer)
            usual = usual_name(live, sent["tried"], request.user.units)
            plan = Plan(owner=request.user, tank=self.tank, kind=WHAT_IF)
            plan = serializers.named(plan, sent, usual)
            before = self.made_once(request, lambda: self.keep(plan, sent["tried"]))
        place = reverse("api-plan-detail", args=[before.data["id"]], request=request)
        before["Location"] = place
        return before

    def keep(self, plan: Plan, tried: TriedRig) -> Response:
        """Keep what was tried as a plan, and answer it."""
        try:
            keep_tried(plan=plan, tried=tried)
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None
        context = self.get_serializer_context()
        return Response(PlanSerializer(plan, context=context).data, status=201)

    def sent(self, kind: type) -> tuple[LiveLight, dict]:
        """Return the tank's light of now and what was sent with what it gives as `tried`."""
        live = live_light(self.tank, timezone.now())
        context = self.get_serializer_context() | {"live": live}
        serializer = kind(data=self.request.data, context=context)
        serializer.is_valid(raise_exception=True)
        return live, serializer.validated_data
