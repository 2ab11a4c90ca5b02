"""Plans over REST: layouts are made here, what-ifs of a tank below it."""

import django_filters.rest_framework as django_filters
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api import plan_serializers as serializers
from apps.api.filtering import KeyFilter
from apps.api.views import READS, RemovingMixin
from apps.common.programs.idempotency import MAKING, ModelViewSet
from apps.planning.access import writable_plan
from apps.planning.duplicating import duplicate_plan
from apps.planning.layout.searching import resume_search, take_turn
from apps.planning.models import LAYOUT, Plan


class PlanFilter(django_filters.FilterSet):
    # By its number alone: whether a stranger's tank has it is not told.
    tank = KeyFilter(field_name="tank_id")

    class Meta:
        model = Plan
        fields = ["kind"]


class PlanViewSet(RemovingMixin, ModelViewSet):
    """Layouts and what-ifs of the tanks the user sees, and their own without a tank.

    A list tells their heads; one plan comes with its question and its answer.
    """

    makes = (*MAKING, "duplicate")
    queryset = Plan.objects.none()
    filterset_class = PlanFilter

    def get_serializer_class(self):
        in_list = self.action == "list"
        return serializers.PlanHeadSerializer if in_list else serializers.PlanSerializer

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        plans = Plan.objects.visible_to(self.request.user).select_related("owner", "tank")
        return plans.defer("asked", "answer") if self.action == "list" else plans

    def get_object(self):
        plan = super().get_object()
        if self.request.method not in READS:
            writable_plan(self.request.user, plan.pk)
        return plan

    def perform_create(self, serializer):
        serializer.save(owner=self.request.user, kind=LAYOUT)

    def get_serializer_context(self):
        # A new plan is its maker's; a changed one stays whose it is.
        is_new = self.action == "create"
        fixed = {"owner": self.request.user, "kind": LAYOUT} if is_new else {}
        return super().get_serializer_context() | {"fixed": fixed}

    @extend_schema(
        summary="Duplicate a plan",
        description="Copy a plan, to try something else with the copy.",
        request=None,
        responses={201: serializers.PlanSerializer},
    )
    @action(detail=True, methods=["post"])
    def duplicate(self, request: Request, pk: str) -> Response:
        plan = self.get_object()

        def make() -> Response:
            copy = duplicate_plan(plan=plan, by=request.user)
            return Response(self.get_serializer(copy).data, status=201)

        return self.located(self.made_once(request, make))

    @extend_schema(request=None, responses=serializers.PlanSerializer)
    @action(detail=True, methods=["post"])
    def search(self, request: Request, pk: str) -> Response:
        """Work on a layout's search for a second or so, until `answer.finished` is true.

        A search that was stopped goes on.
        """
        plan = self.get_object()
        if plan.kind != LAYOUT or not plan.asked:
            raise ValidationError({"kind": [serializers.NO_LAYOUT]})
        resume_search(plan=plan)
        if not (plan.answer and plan.answer["finished"]):
            take_turn(plan=plan)
        return Response(self.get_serializer(plan).data)
