"""Trials over REST: begun, stopped and resumed. Their lot is drawn once."""

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.steps import trial_serializers as serializers
from apps.api.views import RemovingMixin, SignedMixin
from apps.common.programs.idempotency import ModelViewSet
from apps.outcomes.models import Trial
from apps.outcomes.trial.stopping import resume, stop, unstop

ANSWERED = {"request": None, "responses": serializers.TrialSerializer}
EXAMPLE = {
    "question": "less", "step": "One ledge down", "factor": 0.8, "began_on": "2026-05-04",
    "corals": [3, 5, 8],
}  # fmt: skip


@extend_schema_view(
    create=extend_schema(examples=[OpenApiExample("A ledge down", EXAMPLE, request_only=True)])
)
class TrialViewSet(RemovingMixin, SignedMixin, ModelViewSet):
    """A tank's trials with the day drawn for each coral. A trial can't be edited once started."""

    http_method_names = ["get", "post", "delete", "head", "options"]
    guards = ("stop", "unstop", "resume")
    queryset = Trial.objects.none()
    serializer_class = serializers.TrialSerializer
    filterset_fields = ["question"]

    def get_queryset(self) -> QuerySet:
        return super().get_queryset().prefetch_related("draws__trial")

    @extend_schema(summary="Stop a trial", **ANSWERED)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, **kwargs: object) -> Response:
        """Stop a trial today. A stopped trial stays stopped."""
        return self.changed(request, lambda trial: stop(trial=trial))

    @extend_schema(summary="Undo a stop", **ANSWERED)
    @action(detail=True, methods=["post"])
    def unstop(self, request: Request, **kwargs: object) -> Response:
        """Let a stopped trial go on as if it had not been stopped."""
        return self.changed(request, lambda trial: unstop(trial=trial))

    @extend_schema(summary="Resume a trial", **ANSWERED)
    @action(detail=True, methods=["post"])
    def resume(self, request: Request, **kwargs: object) -> Response:
        """Go on after a pause: colour lost up to today no longer pauses it."""
        return self.changed(request, lambda trial: resume(trial=trial))
