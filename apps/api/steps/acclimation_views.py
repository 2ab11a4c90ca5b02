"""Acclimations over REST: made, followed step by step, dated anew."""

import django_filters.rest_framework as django_filters
from django.core.exceptions import ValidationError as Unsound
from django.db.models import Model, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework.exceptions import ValidationError

from apps.api.filtering import KeyFilter
from apps.api.steps import acclimation_serializers as serializers
from apps.api.views import FixedParentMixin, RemovingMixin, SignedMixin
from apps.common.programs.idempotency import ModelViewSet
from apps.common.programs.serializers import api_messages
from apps.planning.acclimation.acclimating import untick
from apps.planning.models import Acclimation, AcclimationTick
from apps.tanks.models import Tank


class AcclimationFilter(django_filters.FilterSet):
    coral = KeyFilter(field_name="coral_id")

    class Meta:
        model = Acclimation
        fields = ["whole_tank"]


@extend_schema_view(
    create=extend_schema(
        examples=[
            OpenApiExample("A coral", {"coral": 3, "target_umol": 220}, request_only=True),
            OpenApiExample("A whole tank", {"whole_tank": True, "factor": 1.25}, request_only=True),
        ]
    )
)
class AcclimationViewSet(RemovingMixin, SignedMixin, ModelViewSet):
    """A tank's acclimations with their steps and ticks. A single one also gives its next step."""

    # Its steps are counted from the light of now, for which a tank may be fitted.
    checks_long = True

    queryset = Acclimation.objects.none()
    filterset_class = AcclimationFilter

    def get_serializer_class(self):
        in_list = self.action == "list"
        return (
            serializers.AcclimationHeadSerializer if in_list else serializers.AcclimationSerializer
        )

    def get_queryset(self) -> QuerySet:
        # A plan of a coral that was taken away went with it.
        plans = super().get_queryset().filter(coral__removed_at__isnull=True)
        return plans.select_related("tank").prefetch_related("steps__acclimation", "ticks")


@extend_schema_view(
    create=extend_schema(
        summary="Tick a step",
        description="Note that the next step was taken, on any day from its due day to today. "
        "Only the step that the acclimation gives as `next` is accepted.",
        examples=[
            OpenApiExample("A step", {"number": 1, "done_on": "2026-05-04"}, request_only=True)
        ],
    ),
    destroy=extend_schema(
        summary="Untick a step", description="Undo a tick. Only the latest can be undone."
    ),
)
class TickViewSet(FixedParentMixin, ModelViewSet):
    """The steps of an acclimation that were taken, in order."""

    http_method_names = ["get", "post", "delete", "head", "options"]
    queryset = AcclimationTick.objects.none()
    serializer_class = serializers.AcclimationTickSerializer
    parent_name = "acclimation"

    @property
    def tank(self) -> Tank:
        return self.parent.tank

    def find_parent(self) -> Acclimation:
        tank = super().find_parent()
        plans = Acclimation.objects.visible_to(self.request.user).with_all()
        return get_object_or_404(plans, tank=tank, pk=self.kwargs["acclimation_pk"])

    def fixed(self) -> dict[str, object]:
        return super().fixed() | {"created_by": self.request.user}

    def hold(self, row: Model) -> None:
        # Ticks are made and taken back while their plan is held.
        super().hold(self.parent)

    def perform_destroy(self, tick: AcclimationTick) -> None:
        try:
            untick(tick)
        except Unsound as problem:
            raise ValidationError(api_messages(problem)) from None
